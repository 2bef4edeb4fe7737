# Mixed-model references.  Usage, in a folder with csv/ (the files of this folder and ../csv): REF_DATA=. Rscript remlReference.R
source("../common.R"); source("remlReferenceLib.R")
l <- "share"
plan <- fromJSON("remlPlan.json", simplifyVector = FALSE)
res <- lapply(plan, function(p) { r <- tryCatch(run_mixed(p), error = function(e) list(id = p$id, error = conditionMessage(e))); message(p$id, " ", r$error); r })
out_json(list(meta = session_meta(paste("mixed models,", l), list("REML log-likelihood in the lme4/nlme convention: -0.5*[(n-p)log(2pi) + log|V| + log|X'V^-1 X| + r'V^-1 r]", "nlme degrees of freedom are its inner-outer (containment-like) rule", "sum/treatment coding: treatment contrasts, first level (alphabetical) as base")), models = res))
