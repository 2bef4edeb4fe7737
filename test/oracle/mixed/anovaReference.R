# Analysis-of-variance references.  Usage, in a folder with csv/ (the files of this folder and ../csv): REF_DATA=. Rscript anovaReference.R
source("../common.R"); source("anovaReferenceLib.R")
l <- "share"
plan <- fromJSON("anovaPlan.json", simplifyVector = FALSE)
res <- lapply(plan, function(p) tryCatch(switch(p$kind, rcbd = run_rcbd(p), strata = run_strata(p), combined = run_combined(p)), error = function(e) list(id = p$id, error = conditionMessage(e))))
out_json(list(meta = session_meta(paste("analysis of variance,", l), list("ms = ss/df", "polynomial contrasts: Gram-Schmidt on actual levels, weighted by replication; coefficients scaled to max |c| = 1")), analyses = res))
