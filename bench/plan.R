# Peer for simulated trials: each trial's five curves with fixed blocks by lm.fit (joins by a grid and optimize), AICc choice, and
# whether the envelope interval of the optimum is bounded. Usage: Rscript plan.R trials.csv. Prints one line of JSON.
suppressPackageStartupMessages(library(jsonlite))
spent <- function(expr) sum(system.time(expr)[c("user.self", "sys.self")]) # processor time, as on our side
d <- read.csv(commandArgs(TRUE)[1])
x <- d$density[d$trial == 0]; block <- factor(d$block[d$trial == 0])
B <- model.matrix(~ block); n <- length(x); nb <- nlevels(block)
rss <- function(y, ...) sum(lm.fit(cbind(B, ...), y)$residuals^2)
# Least RSS of a curve k h with k of the wanted sign, beside blocks.
ray <- function(y, h) { f <- lm.fit(cbind(B, h), y); if (f$coefficients[["h"]] > 0) sum(f$residuals^2) else rss(y) }
plateau <- function(y, p) {
  at <- function(J) ray(y, -pmax(J - x, 0)^p)
  levels <- sort(unique(x)); best <- Inf
  for (i in 2:(length(levels) - 1)) {
    grid <- seq(levels[i], levels[i + 1], length.out = 9)
    v <- vapply(grid, at, 0); k <- which.min(v)
    o <- optimize(at, c(grid[max(k - 1, 1)], grid[min(k + 1, 9)]), tol = 1e-8)
    best <- min(best, v, o$objective)
  }
  best
}
one <- function(y) {
  flat <- rss(y); line <- rss(y, x); q <- lm.fit(cbind(B, x, x2 = x^2), y); quad <- sum(q$residuals^2)
  lp <- plateau(y, 1); qp <- plateau(y, 2)
  b <- q$coefficients[c("x", "x2")]; vertex <- -b[[1]] / (2 * b[[2]])
  if (b[[2]] < 0 && vertex >= max(x)) qp <- min(qp, quad)
  if (lm.fit(cbind(B, x), y)$coefficients[["x"]] > 0) qp <- min(qp, line)
  least <- min(line, quad, lp, qp); dof <- n - nb - 2
  cut <- least * (1 + qf(0.95, 1, dof) / dof)
  low <- min(x); high <- max(x)
  edges <- c(line, ray(y, -(x - high)^2), ray(y, -(x - low)^2), ray(y, (x - (low + high) / 2)^2), ray(y, ifelse(x == low, -1, 0)))
  inside <- b[[2]] < 0 && vertex > low && vertex < high
  if (!inside) edges <- c(edges, quad)
  k <- nb + c(0, 1, 2, 2, 2) + 1
  aicc <- n * log(c(flat, line, quad, lp, qp) / n) + 2 * k + 2 * k * (k + 1) / (n - k - 1)
  list(least = least, bounded = flat > cut && all(edges > cut), behind = aicc - min(aicc))
}
trials <- split(d$yield, d$trial)
time <- spent(out <- lapply(trials, one))
out <- out[order(as.integer(names(out)))]
cat(toJSON(list(least = vapply(out, `[[`, 0, "least"), bounded = vapply(out, `[[`, NA, "bounded"), behind = t(vapply(out, `[[`, numeric(5), "behind")),
  microseconds = 1e6 * time / length(trials), version = R.version.string), auto_unbox = TRUE, digits = 15), "\n")
