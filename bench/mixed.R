# Peer for the mixed-model benchmark. Usage: Rscript mixed.R data.csv curves|random. Prints one line of JSON.
suppressPackageStartupMessages(library(lme4))
spent <- function(expr) sum(system.time(expr)[c("user.self", "sys.self")]) # processor time, as on our side
args <- commandArgs(TRUE); d <- read.csv(args[1])
d$z <- (d$density - 30) / 10; d$z2 <- d$z^2
d$eb <- interaction(d$environment, d$block, drop = TRUE); d$eh <- interaction(d$environment, d$hybrid, drop = TRUE)
time <- spent(m <- suppressWarnings(if (args[2] == "curves")
  lmer(yield ~ 0 + hybrid + hybrid:z + hybrid:z2 + (1 + z + z2 | environment) + (1 | eb) + (1 | eh), d) else
  lmer(yield ~ z + z2 + (1 + z + z2 | environment) + (1 | eb) + (1 | eh) + (1 + z + z2 | hybrid), d)))
# The package reports the likelihood for density and density^2: |T| of the change from z.
sets <- if (args[2] == "curves") length(unique(d$hybrid)) else 1
cat(sprintf('{"logLikelihood": %.10f, "milliseconds": %.1f}\n', as.numeric(logLik(m)) - 3 * sets * log(10), 1000 * time))
