# Shapiro-Wilk and Brown-Forsythe answers for diagnoseNormality and diagnoseSpread. Run: Rscript shapiro.R > shapiro.json
suppressPackageStartupMessages(library(jsonlite))
lcg <- function(n, s) { x <- numeric(n); for (i in seq_len(n)) { s <- (16807 * s) %% 2147483647; x[i] <- s / 2147483647 }; x }  # exact in double
sets <- list()
for (n in c(3, 4, 5, 6, 7, 10, 11, 12, 13, 24, 50, 200, 1000, 4000)) for (shape in c("normal", "uniform", "skewed")) {
  u <- lcg(n, n + 7); x <- switch(shape, normal = qnorm(u), uniform = u, skewed = exp(2 * qnorm(u)))
  t <- shapiro.test(x); sets[[length(sets) + 1]] <- list(n = n, shape = shape, w = unname(t$statistic), p = t$p.value)
}
u <- qnorm(lcg(30, 5)); g <- rep(1:5, 6); y <- u * g + g
z <- abs(y - ave(y, g, FUN = median)); a <- anova(lm(z ~ factor(g)))
cat(toJSON(list(meta = R.version.string, shapiro = sets, brown_forsythe = list(y = y, g = g, f = a$`F value`[1], p = a$`Pr(>F)`[1])), digits = I(15), auto_unbox = TRUE))
