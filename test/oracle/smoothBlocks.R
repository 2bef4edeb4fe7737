# Smooth families with additive block deviations that sum to zero, and with weights, by R's nls: y = f(x) + C d, C the
# sum-to-zero contrasts.
# Rscript smoothBlocks.R > start.json; python3 smoothBlocks.py start.json > smoothBlocks.json   (R 4.2.2; nls stops at seven digits,
# so the second script carries its answers on to 40 digits)
suppressPackageStartupMessages(library(jsonlite)); options(digits = 15)
fit <- function(name, csv, x, y, block, form, start, weights = NULL, keep = TRUE) {
  d <- read.csv(file.path("csv", csv)); d <- d[keep, ][is.finite(d[keep, y]), ]; d$X <- d[[x]]; d$Y <- d[[y]]
  f <- factor(d[[block]], levels = unique(d[[block]])); B <- nlevels(f); C <- contr.sum(B)[as.integer(f), , drop = FALSE]
  w <- if (is.null(weights)) rep(1, nrow(d)) else weights(d)
  for (j in seq_len(B - 1)) d[[paste0("C", j)]] <- C[, j]
  full <- as.formula(paste("Y ~", form, "+", paste0("d", 1:(B - 1), " * C", 1:(B - 1), collapse = " + ")))
  st <- c(start, setNames(as.list(rep(0, B - 1)), paste0("d", 1:(B - 1))))
  m <- nls(full, d, start = st, weights = w, control = nls.control(maxiter = 500, tol = 1e-6, minFactor = 1e-12))
  s <- coef(summary(m)); e <- coef(m); dv <- e[grep("^d", names(e))]
  list(family = name, csv = csv, x = d$X, y = d$Y, block = as.integer(f) - 1, blocks = B, weight = w, theta = unname(e[names(start)]),
       se = unname(s[names(start), 2]), deviation = unname(c(dv, -sum(dv))), rss = sum(w * resid(m)^2), df = df.residual(m))
}
wx <- function(d) 1 + (seq_len(nrow(d)) %% 3) / 2
sim <- function(...) fit(..., x = "density", y = "yield", block = "block")
tu <- read.csv("csv/turnip_density_factorial_mead.csv"); k <- tu$row_spacing_in == tu$row_spacing_in[1]
out <- list(
  sim("exponential", "sim01_optimum_beyond_range.csv", form = "X*exp(a+b*X)", start = list(a = -1.5, b = -0.01)),
  sim("exponential", "sim05_outlier.csv", form = "X*exp(a+b*X)", start = list(a = -1.5, b = -0.01), weights = wx),
  sim("reciprocal", "sim01_optimum_beyond_range.csv", form = "X/(a+b*X)", start = list(a = 3, b = 0.05)),
  sim("reciprocal", "sim05_outlier.csv", form = "X/(a+b*X)", start = list(a = 1, b = 0.08), weights = wx),
  sim("parabolic-reciprocal", "sim05_outlier.csv", form = "X/(a+b*X+c*X^2)", start = list(a = 4, b = 0, c = 7e-4)),
  sim("parabolic-reciprocal", "sim01_optimum_beyond_range.csv", form = "X/(a+b*X+c*X^2)", start = list(a = 5, b = 0, c = 4e-4), weights = wx),
  sim("mitscherlich", "sim01_optimum_beyond_range.csv", form = "a-b*exp(-c*X)", start = list(a = 12, b = 15, c = 0.03)),
  sim("mitscherlich", "sim03_three_densities.csv", form = "a-b*exp(-c*X)", start = list(a = 12, b = 15, c = 0.05), weights = wx),
  fit("mitscherlich", "turnip_density_factorial_mead.csv", x = "seed_rate_lb_ac", y = "log_yield", block = "block", keep = k, form = "a-b*exp(-c*X)", start = list(a = 3, b = 3, c = 0.3)))
cat(toJSON(out, digits = I(15), auto_unbox = TRUE, pretty = FALSE), "\n")
