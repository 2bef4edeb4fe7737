# Density response with a field trend and correlated neighbours, by nlme's gls on the invented strips of fieldTrend.csv,
# and a random-effects combination by direct maximisation.
#   Rscript test/oracle/mixed/fieldTrend.R     (R 4.2.2, nlme 3.1-162; writes fieldTrend.csv, fieldTrend.json)
suppressPackageStartupMessages({ library(nlme); library(jsonlite) })
here <- "test/oracle/mixed"
set.seed(4); n <- 60; rho <- .75
e <- numeric(n); e[1] <- rnorm(1); for (i in 2:n) e[i] <- rho * e[i - 1] + sqrt(1 - rho^2) * rnorm(1)
d <- data.frame(position = 1:n, density = unlist(lapply(1:12, function(b) sample(c(20, 25, 30, 35, 40)))), block = rep(1:12, each = 5))
z <- (d$density - 30) / 10
d$yield <- round(10 + .6 * z - .9 * z^2 + .03 * d$position + .6 * e + rnorm(n, 0, .3), 4)
write.csv(d, file.path(here, "fieldTrend.csv"), row.names = FALSE, quote = FALSE)
d$z <- z; d$s <- d$position - mean(d$position); d$one <- 1
out <- function(m, nug) { p <- coef(m$modelStruct$corStruct, unconstrained = FALSE)
  list(loglik = as.numeric(logLik(m)), coefficients = unname(coef(m)), se = unname(sqrt(diag(vcov(m)))), sigma = m$sigma, rho = if (nug) exp(-1 / p[["range"]]) else p[[1]], nugget = if (nug) p[["nugget"]] else 0) }
ctl <- glsControl(tolerance = 1e-12, msTol = 1e-14, msMaxIter = 500, maxIter = 500)
ar1 <- gls(yield ~ z + I(z^2) + s, d, correlation = corAR1(.5, ~position | one), method = "REML", control = ctl)
nug <- gls(yield ~ z + I(z^2) + s, d, correlation = corExp(c(3, .3), ~position | one, nugget = TRUE), method = "REML", control = ctl)
y <- c(30.1, 33.5, 28.2, 35.9, 31.0, 29.4, 36.8); s <- c(1.2, .9, 1.6, 2.1, .8, 1.4, 1.9)
score <- function(t2) { w <- 1 / (s^2 + t2); mu <- sum(w * y) / sum(w); .5 * (sum(w^2 * (y - mu)^2) - sum(w) + sum(w^2) / sum(w)) }
t2 <- uniroot(score, c(.1, 100), tol = 1e-15)$root; w <- 1 / (s^2 + t2); mu <- sum(w * y) / sum(w); k <- length(y)
meta <- list(estimate = y, se = s, tau2 = t2, mu = mu, se_plain = sqrt(1 / sum(w)), se_hk = sqrt(sum(w * (y - mu)^2) / (k - 1) / sum(w)))
writeLines(toJSON(list(ar1 = out(ar1, FALSE), nugget = out(nug, TRUE), meta = meta), digits = NA, auto_unbox = TRUE, pretty = 1), file.path(here, "fieldTrend.json"))
