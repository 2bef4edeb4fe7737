# Bands of response curves with block effects, for test/derive/curveBand.test.ts: Rscript curveBand.R > curveBand.json
# Invented plots: 6 densities x 3 blocks. The quadratic band is predict() of lm with sum-to-zero blocks; the linear-plateau
# ends are found by direct search (some minutes): for a yield v at density x0, RSS is minimised numerically over slope and join with the curve
# held at v, and the v where it meets the cut-off is solved by bisection.
suppressMessages(library(jsonlite))
x <- rep(c(18, 23, 28, 33, 38, 43), 3)
block <- rep(1:3, each = 6)
y <- c(171, 186, 203, 205, 204, 207, 176, 191, 199, 212, 209, 208, 168, 188, 197, 203, 208, 201)
at <- c(18, 20.5, 28, 31, 43)
b <- factor(block)
contrasts(b) <- contr.sum(3)
quadratic <- lm(y ~ x + I(x^2) + b)
X <- cbind(1, at, at^2, 0, 0)
mean <- drop(X %*% coef(quadratic))
se <- sqrt(rowSums((X %*% vcov(quadratic)) * X))
t <- qt(0.975, df.residual(quadratic))

# linear-plateau alone: y = plateau + block - slope * max(join - x, 0)
centre <- function(v) v - ave(v, block)
rssAt <- function(par, v, x0) { # block deviations sum to zero: level of the average block is given by v at x0
  slope <- exp(par[1]); join <- par[2]
  shape <- -slope * pmax(join - x, 0)
  level <- v + slope * max(join - x0, 0)
  e <- y - shape
  # free block effects with mean `level` over blocks: least squares with one linear constraint
  m <- tapply(e, block, mean); n <- tapply(e, block, length)
  lambda <- (mean(m) - level) / mean(1 / n)
  fitted <- m - lambda / n
  sum((e - fitted[block])^2)
}
best <- function(v, x0) {
  starts <- expand.grid(log(c(0.5, 1.5, 2.5, 4)), c(21, 25, 28.2, 31, 35))
  min(apply(starts, 1, function(s) optim(s, rssAt, v = v, x0 = x0, control = list(reltol = 1e-13, maxit = 2000))$value))
}
least <- min(sapply(seq(18.5, 43, by = 0.01), function(join) {
  z <- centre(pmin(x - join, 0)); r <- centre(y); k <- sum(z * r) / sum(z * z)
  if (k < 0) Inf else sum((r - k * z)^2) }))
df <- length(y) - 3 - 2
cutoff <- least * (1 + qf(0.95, 1, df) / df)
ends <- t(sapply(at, function(x0) {
  v <- seq(150, 230, by = 0.5)
  f <- sapply(v, function(one) best(one, x0)) - cutoff
  inside <- which(f <= 0)
  edge <- function(a, b) uniroot(function(one) best(one, x0) - cutoff, c(v[a], v[b]), tol = 1e-7)$root
  c(edge(min(inside) - 1, min(inside)), edge(max(inside), max(inside) + 1))
}))
cat(toJSON(list(density = x, yield = y, block = block, at = at,
  quadratic = list(mean = mean, lower = mean - t * se, upper = mean + t * se),
  linearPlateau = list(lower = ends[, 1], upper = ends[, 2], rss = least, cutoff = cutoff)), digits = 12, auto_unbox = TRUE))
