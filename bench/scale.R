# Peer for the scale benchmark: per hybrid and site-year the quadratic with fixed blocks by lm, and its vertex by boot (residuals).
# Usage: Rscript scale.R network.csv groups replicates. Prints one line of JSON.
suppressPackageStartupMessages(library(boot))
spent <- function(expr) sum(system.time(expr)[c("user.self", "sys.self")]) # processor time, as on our side
args <- commandArgs(TRUE)
d <- read.csv(args[1])
groups <- as.integer(args[2]); replicates <- as.integer(args[3])
d$key <- paste(d$hybrid, d$site, d$year, sep = "|")
keys <- unique(d$key)[seq_len(groups)]
set.seed(1)
time <- spent(out <- lapply(keys, function(k) {
  g <- d[d$key == k, ]
  X <- model.matrix(~ factor(block) + seeding_rate_k_ac + I(seeding_rate_k_ac^2), g)
  base <- lm.fit(X, g$yield_bu_ac)
  p <- ncol(X)
  e <- base$residuals * sqrt(nrow(X) / (nrow(X) - p))
  stat <- function(r, i) { b <- lm.fit(X, base$fitted.values + r[i])$coefficients; -b[p - 1] / (2 * b[p]) }
  b <- boot(e - mean(e), stat, R = replicates)
  c(sum(base$residuals^2), base$coefficients[p], quantile(b$t, c(.025, .975), na.rm = TRUE))
}))
m <- do.call(rbind, out)
cat(sprintf('{"keys": [%s], "rss": [%s], "quadratic": [%s], "seconds": %.4f, "version": "%s"}\n',
            paste0('"', keys, '"', collapse = ","), paste(sprintf("%.12g", m[, 1]), collapse = ","),
            paste(sprintf("%.12g", m[, 2]), collapse = ","), time, R.version$version.string))
