# Peer for the bootstrap of a quadratic's vertex: package boot with the fastest least squares R offers (.lm.fit).
# Usage: Rscript bootstrap.R data.csv replicates. Prints one line of JSON: the resample indices, the replicates and the time.
suppressPackageStartupMessages({library(boot); library(jsonlite)})
args <- commandArgs(TRUE); d <- read.csv(args[1]); replicates <- as.integer(args[2])
vertex <- function(x, y) { z <- x - mean(x); b <- .lm.fit(cbind(1, z, z^2), y)$coefficients; mean(x) - b[2] / (2 * b[3]) }
cases <- function(d, i) vertex(d$density[i], d$yield[i])
z <- d$density - mean(d$density); X <- cbind(1, z, z^2); f <- .lm.fit(X, d$yield); r <- f$residuals - mean(f$residuals); fit <- d$yield - f$residuals
residual <- function(e, i) { b <- .lm.fit(X, fit + e[i])$coefficients; mean(d$density) - b[2] / (2 * b[3]) }
spent <- function(expr) sum(system.time(expr)[c("user.self", "sys.self")]) # processor time, as on our side
set.seed(1); t1 <- spent(b1 <- boot(d, cases, R = replicates))
set.seed(2); t2 <- spent(b2 <- boot(r, residual, R = replicates))
k <- 200
cat(toJSON(list(version = R.version.string,
                cases = list(us = 1e6 * t1 / replicates, indices = boot.array(b1, indices = TRUE)[1:k, ] - 1, t = b1$t[1:k]),
                residual = list(us = 1e6 * t2 / replicates, indices = boot.array(b2, indices = TRUE)[1:k, ] - 1, t = b2$t[1:k])),
           digits = I(15), auto_unbox = TRUE))
