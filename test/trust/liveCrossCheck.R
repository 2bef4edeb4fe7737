# Fits fresh trials with base tools and prints the answers as JSON: lm for straight lines and parabolas with blocks, a profile over the
# join (lm.fit inside optimize, gap by gap) for plateaus, glm for lodging, lme4 for mixed models, boot with its own indices, and R's
# distribution functions. Usage: Rscript liveCrossCheck.R trials.json > answers.json
suppressPackageStartupMessages({ library(jsonlite); library(boot); library(lme4) })
input <- fromJSON(commandArgs(trailingOnly = TRUE)[1], simplifyDataFrame = FALSE)
options(contrasts = c("contr.treatment", "contr.poly"))

polynomial <- function(t) {
  b <- factor(t$block)
  x <- t$density
  answer <- function(m, names) {
    s <- summary(m)$coefficients
    list(est = unname(s[names, 1]), se = unname(s[names, 2]), rss = sum(resid(m)^2), df = df.residual(m))
  }
  list(linear = answer(lm(t$yield ~ b + x), "x"),
       quadratic = answer(lm(t$yield ~ b + x + I(x^2)), c("x", "I(x^2)")))
}

# Least RSS over the join with a slope (or a bend) of the rising kind; gaps between tested densities one by one.
plateau <- function(t, shape) {
  b <- model.matrix(~ factor(t$block))
  levels <- sort(unique(t$density))
  rss <- function(join) {
    z <- pmin(t$density, join)
    if (shape == "quadratic") z <- -(z - join)^2
    f <- lm.fit(cbind(b, z), t$yield)
    slope <- f$coefficients[ncol(b) + 1]
    if (is.na(slope) || slope < 0) Inf else sum(f$residuals^2)
  }
  last <- max(levels)
  ends <- if (shape == "quadratic") c(levels, last + diff(range(levels)) * c(0.25, 0.5, 1, 2, 4, 8, 16, 32)) else levels
  best <- list(join = NA, rss = Inf)
  for (i in seq_len(length(ends) - 1)) for (piece in 1:4) {
    lo <- ends[i] + (ends[i + 1] - ends[i]) * (piece - 1) / 4
    hi <- ends[i] + (ends[i + 1] - ends[i]) * piece / 4
    o <- optimize(function(j) min(rss(j), 1e300), c(lo, hi), tol = 1e-12)
    for (j in c(o$minimum, hi)) if (rss(j) < best$rss) best <- list(join = j, rss = rss(j))
  }
  best
}

lodging <- function(t) {
  d <- data.frame(x = t$density, b = factor(t$block), y = t$lodged, n = t$examined)
  control <- glm.control(epsilon = 1e-14, maxit = 100)
  plain <- glm(cbind(y, n - y) ~ x, binomial, d, control = control)
  blocked <- glm(cbind(y, n - y) ~ b + x, binomial, d, control = control)
  list(coef = unname(coef(plain)), se = unname(sqrt(diag(vcov(plain)))), deviance = deviance(plain),
       blocked_slope = unname(coef(blocked)["x"]), blocked_deviance = deviance(blocked))
}

mixed <- function(t) {
  d <- data.frame(y = t$yield, z = t$z, z2 = t$z^2, e = factor(t$environment), b = factor(t$block), h = factor(t$hybrid))
  m <- suppressMessages(lmer(y ~ z + z2 + (1 | e) + (1 | b) + (1 | h), d, REML = TRUE,
    control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhobeg = 0.2, rhoend = 1e-10, maxfun = 1e5))))
  v <- as.data.frame(VarCorr(m))
  list(loglik = as.numeric(logLik(m)), fixed = unname(fixef(m)), se = unname(sqrt(diag(as.matrix(vcov(m))))),
       variance = as.list(setNames(v$vcov, v$grp)))
}

resampled <- function(t) {
  d <- data.frame(x = t$density, y = t$yield)
  vertex <- function(d, i) { k <- coef(lm(y ~ x + I(x^2), d[i, ])); unname(-k[2] / (2 * k[3])) }
  set.seed(t$seed)
  b <- boot(d, vertex, R = 200)
  ci <- boot.ci(b, type = c("perc", "basic"))
  list(indices = boot.array(b, indices = TRUE), t0 = b$t0, t = b$t[, 1], percentile = ci$percent[1, 4:5], basic = ci$basic[1, 4:5])
}

tails <- function(p) switch(p$fn,
  t = list(upper = pt(p$x, p$a, lower.tail = FALSE), quantile = qt(p$p, p$a)),
  f = list(upper = pf(p$x, p$a, p$b, lower.tail = FALSE), quantile = qf(p$p, p$a, p$b)),
  chi2 = list(upper = pchisq(p$x, p$a, lower.tail = FALSE), quantile = qchisq(p$p, p$a)),
  beta = list(upper = pbeta(p$x, p$a, p$b, lower.tail = FALSE), quantile = qbeta(p$p, p$a, p$b)))

cat(toJSON(list(
  version = R.version.string,
  curves = lapply(input$curves, function(t)
    c(polynomial(t), list(linear_plateau = plateau(t, "linear"), quadratic_plateau = plateau(t, "quadratic")))),
  lodging = lapply(input$lodging, lodging),
  mixed = lapply(input$mixed, mixed),
  bootstrap = lapply(input$bootstrap, resampled),
  tails = lapply(input$tails, tails)), digits = I(17), auto_unbox = TRUE))
