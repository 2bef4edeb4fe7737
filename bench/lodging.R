# Peer for the lodging benchmark: quasi-binomial glm of lodged plants on density with fixed blocks.
# Usage: Rscript lodging.R data.csv repeats. Prints one line of JSON.
spent <- function(expr) sum(system.time(expr)[c("user.self", "sys.self")]) # processor time, as on our side
args <- commandArgs(TRUE)
d <- read.csv(args[1])
repeats <- as.integer(args[2])
d$block <- factor(d$block)
fit <- function() glm(cbind(lodged, examined - lodged) ~ density + block, quasibinomial, d, control = glm.control(epsilon = 1e-12))
base <- fit()
time <- spent(for (i in seq_len(repeats)) fit()) / repeats
cat(sprintf('{"slope": %.12g, "error": %.12g, "deviance": %.12g, "us": %.1f, "version": "%s"}\n', coef(base)[["density"]],
            summary(base)$coefficients["density", 2], deviance(base), 1e6 * time, R.version$version.string))
