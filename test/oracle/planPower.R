# Power of contrasts in complete blocks, and upper tails of the noncentral F, by R's pt with
# noncentrality (algorithm AS 243, stops at 1e-12; pf with ncp stops at 1e-9): P(F > f) = P(|T| > sqrt f). Usage: Rscript planPower.R > planPower.json
suppressPackageStartupMessages(library(jsonlite))
upper <- function(f, dof, lambda) pt(-sqrt(f), dof, sqrt(lambda)) + pt(sqrt(f), dof, sqrt(lambda), lower.tail = FALSE)
cases <- list()
for (m in c(4, 6)) for (blocks in c(2, 4, 8)) for (sigma in c(4, 8, 20)) for (alpha in c(0.05, 0.1)) {
  x <- if (m == 4) c(22, 28, 34, 40) else c(18, 23, 28, 33, 38, 43)
  means <- 200 - 0.08 * (x - 34)^2
  contrast <- x - mean(x)
  lambda <- blocks * sum(contrast * means)^2 / (sigma^2 * sum(contrast^2))
  dof <- (m - 1) * (blocks - 1)
  cases[[length(cases) + 1]] <- list(densities = x, means = means, contrast = contrast, blocks = blocks, sigma = sigma, alpha = alpha,
    power = upper(qf(1 - alpha, 1, dof), dof, lambda))
}
tails <- list()
for (f in c(0.01, 1, 4, 30)) for (dof in c(1, 3, 15, 200)) for (lambda in c(0, 0.5, 8, 60))
  tails[[length(tails) + 1]] <- list(f = f, dof = dof, lambda = lambda, upper = upper(f, dof, lambda))
cat(toJSON(list(source = R.version.string, command = "Rscript planPower.R > planPower.json", power = cases, tails = tails),
  auto_unbox = TRUE, digits = 15, pretty = FALSE), "\n")
