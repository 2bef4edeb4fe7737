# Peer for the bootstrap refit: quadratic-plateau with fixed blocks by nls (port, as it accepts the kink) and boot.
# Usage: Rscript refit.R data.csv replicates. Prints one line of JSON.
suppressPackageStartupMessages(library(boot))
spent <- function(expr) sum(system.time(expr)[c("user.self", "sys.self")]) # processor time, as on our side
args <- commandArgs(TRUE)
d <- read.csv(args[1])
replicates <- as.integer(args[2])
d$block <- factor(d$block)
X <- model.matrix(~ block, d, contrasts.arg = list(block = "contr.sum"))[, -1, drop = FALSE]
fit <- function(y, start) nls(y ~ P + X %*% g - k * pmax(J - d$density, 0)^2, start = start, algorithm = "default",
                              control = nls.control(maxiter = 200, warnOnly = TRUE))
# Sound start: profile over the join.
profile <- function(J) { h <- pmax(J - d$density, 0)^2; deviance(lm(d$yield ~ X + h)) }
J0 <- optimize(profile, range(d$density))$minimum
l0 <- coef(lm(d$yield ~ X + I(pmax(J0 - d$density, 0)^2)))
start <- list(P = l0[[1]], g = unname(l0[2:(ncol(X) + 1)]), k = -l0[[length(l0)]], J = J0)
base <- fit(d$yield, start)
start <- as.list(coef(base)); start <- list(P = coef(base)[[1]], g = unname(coef(base)[2:(ncol(X) + 1)]), k = coef(base)[["k"]], J = coef(base)[["J"]])
res <- resid(base) * sqrt(nrow(d) / df.residual(base)); fitted <- fitted(base)
one <- spent(for (i in 1:50) fit(d$yield, start)) / 50
failed <- 0
stat <- function(e, i) tryCatch(coef(fit(fitted + e[i], start))[["J"]], error = function(err) { failed <<- failed + 1; NA })
set.seed(1)
time <- spent(b <- boot(res - mean(res), stat, R = replicates))
cat(sprintf('{"rss": %.12f, "join": %.9f, "fitMicroseconds": %.2f, "replicateMicroseconds": %.2f, "failed": %d, "replicates": %d, "version": "%s"}\n',
            deviance(base), coef(base)[["J"]], 1e6 * one, 1e6 * time / replicates, failed, replicates, R.version$version.string))
