# Linear mixed model references (own code): lme4 deviance function polished with Newton
# steps, the same model in nlme where its random structure allows, ML as well as REML.
suppressPackageStartupMessages({ library(lme4); library(nlme); library(numDeriv) })

# theta = 0 is always a stationary point of the profiled criterion (it is even in theta), so a
# single optimiser run can stop there although a positive variance fits better: several starts,
# and zero is kept only when it is at least as good.
polish_theta <- function(devfun, starts, lower) {
  one <- function(t0) nlminb(t0, devfun, lower = lower, control = list(rel.tol = 1e-15, x.tol = 1e-14, eval.max = 5000, iter.max = 5000))
  fits <- lapply(starts, one); th <- fits[[which.min(vapply(fits, function(o) o$objective, 0))]]$par
  for (it in 1:10) {
    free <- which(!(th <= lower + 1e-7)); if (!length(free)) break
    f <- function(v) { t <- th; t[free] <- v; devfun(t) }
    g <- grad(f, th[free], method.args = list(eps = 1e-4, r = 6)); H <- hessian(f, th[free], method.args = list(eps = 1e-3, r = 6))
    s <- try(solve(H, g), silent = TRUE); if (inherits(s, "try-error")) break
    new <- th; new[free] <- th[free] - s; if (any(new < lower)) break
    if (devfun(new) <= devfun(th) + 1e-10) th <- new
    if (max(abs(s)) < 1e-12) break
  }
  for (j in which(lower == 0 & th < 1e-3)) { z <- th; z[j] <- 0; if (devfun(z) <= devfun(th) + 1e-9) th <- z }
  devfun(th); th
}
merge_fit <- function(formula, data, reml) {
  lf <- lFormula(formula, data, REML = reml, control = lmerControl(check.conv.singular = "ignore", check.scaleX = "ignore"))
  df <- do.call(mkLmerDevfun, lf); lo <- lf$reTrms$lower; base <- ifelse(lo == 0, 1, 0)
  std <- suppressMessages(suppressWarnings(lmer(formula, data, REML = reml)))
  th <- polish_theta(df, list(getME(std, "theta"), base, 0.3 * base, 3 * base), lo)
  mkMerMod(environment(df), list(par = th, fval = df(th), conv = 0, feval = 0, message = NULL), lf$reTrms, fr = lf$fr, mc = quote(lmer()))
}
vc_list <- function(m) { v <- as.data.frame(VarCorr(m))
  lapply(seq_len(nrow(v)), function(i) list(group = v$grp[i], term1 = v$var1[i], term2 = v$var2[i], variance_or_covariance = v$vcov[i], sd_or_correlation = v$sdcor[i])) }
fx_list <- function(m) { b <- fixef(m); se <- sqrt(diag(as.matrix(vcov(m)))); Map(function(n, e, s) list(name = n, est = e, se = s, t = e / s), names(b), unname(b), unname(se)) }

vertex_of <- function(b, V, n1, n2) { if (!all(c(n1, n2) %in% names(b))) return(NULL)
  g <- setNames(numeric(length(b)), names(b)); g[n1] <- -1 / (2 * b[n2]); g[n2] <- b[n1] / (2 * b[n2]^2); v <- -b[[n1]] / (2 * b[[n2]])
  list(x = v, se_delta = sqrt(drop(g %*% V %*% g)), kind = if (b[n2] < 0) "maximum" else "minimum") }

run_mixed <- function(p) {
  d <- read_csv(p$csv); if (!is.null(p$filter)) d <- d[eval(parse(text = p$filter), d), ]
  for (s in p$prepare) d <- eval(parse(text = paste0("within(d, {", s, "})")))
  f <- as.formula(p$formula); d <- d[complete.cases(d[all.vars(f)]), ]
  r <- merge_fit(f, d, TRUE); m <- merge_fit(f, d, FALSE)
  std <- suppressMessages(suppressWarnings(lmer(f, d, REML = TRUE)))
  o <- list(id = p$id, csv = p$csv, filter = p$filter, prepare = as.list(p$prepare), formula = p$formula, n = nobs(r),
    reml = list(criterion = as.numeric(-2 * logLik(r)), loglik = as.numeric(logLik(r)), variance_components = vc_list(r), fixed = unname(fx_list(r)), vcov_fixed = unname(as.matrix(vcov(r))), aic = AIC(r), bic = BIC(r), singular = isSingular(r, tol = 1e-5)),
    ml = list(loglik = as.numeric(logLik(m)), variance_components = vc_list(m), fixed = unname(fx_list(m)), aic = AIC(m), bic = BIC(m), singular = isSingular(m, tol = 1e-5)),
    lme4_default_optimiser = list(reml_criterion = as.numeric(-2 * logLik(std)), excess_over_polished = as.numeric(-2 * logLik(std)) - as.numeric(-2 * logLik(r)), variance_components = vc_list(std)))
  if (!is.null(p$vertex)) o$reml$vertex <- vertex_of(fixef(r), as.matrix(vcov(r)), p$vertex[[1]], p$vertex[[2]])
  re <- ranef(r); o$random_effects <- lapply(names(re), function(g) list(group = g, columns = as.list(names(re[[g]])), levels = rownames(re[[g]]), values = if (ncol(re[[g]]) == 1) re[[g]][[1]] else as.matrix(re[[g]])))
  o$random_effects <- Filter(function(z) length(z$levels) <= 24, o$random_effects)
  if (!is.null(p$nlme)) {
    l <- try(lme(as.formula(p$nlme$fixed), data = d, random = eval(parse(text = p$nlme$random)), method = "REML", na.action = na.omit,
                 control = lmeControl(maxIter = 500, msMaxIter = 2000, niterEM = 200, tolerance = 1e-10, msTol = 1e-12, returnObject = TRUE)), silent = TRUE)
    if (inherits(l, "try-error")) o$nlme <- list(status = "failed", message = trimws(as.character(l))) else {
      t <- summary(l)$tTable; sdv <- as.numeric(VarCorr(l)[, "StdDev"]); o$nlme <- list(status = "ok", random = p$nlme$random, loglik_reml = as.numeric(logLik(l)), sd_labels = rownames(VarCorr(l)), sds = sdv,
        fixed = Map(function(n, e, s, df, tt, pp) list(name = n, est = e, se = s, df = df, t = tt, p = pp), rownames(t), t[, 1], t[, 2], t[, 3], t[, 4], t[, 5]) |> unname()) }
  }
  dir.create(file.path(tempdir(), "mm"), showWarnings = FALSE)   # matrices for the independent likelihood check only
  bl <- r@cnms; fl <- getME(r, "flist"); asg <- attr(fl, "assign")
  writeLines(toJSON(list(id = p$id, y = getME(r, "y"), X = unname(as.matrix(getME(r, "X"))), terms = lapply(seq_along(bl), function(i) list(group = as.integer(fl[[asg[i]]]), name = names(bl)[i], cols = as.list(bl[[i]]),
     Z = unname(as.matrix(sapply(bl[[i]], function(cn) if (cn == "(Intercept)") rep(1, nobs(r)) else getME(r, "X")[, cn])))))), digits = NA, auto_unbox = TRUE), file.path(tempdir(), "mm", paste0(p$id, ".json")))
  o
}
