# Plateau curves with a random level per environment: Gauss-Newton on the join, each step an lme4 REML fit of the model
# linearised at the current join (columns 1, h(J), dh/dJ). At convergence the coefficient of the tangent is zero.
#   Rscript test/oracle/mixed/mixedPlateau.R     (R 4.2.2, lme4 1.1-31)
suppressPackageStartupMessages({ library(lme4); library(jsonlite) })
here <- "test/oracle/mixed"
d <- read.csv(file.path(here, "barley_nitrogen_met_theobald.csv")); d <- d[!is.na(d$yield_t_ha), ]
d$env <- paste(d$year, d$location); d$x <- d$nitrogen_kg_ha; d$y <- d$yield_t_ha
fit <- function(p, join) { k <- NA
  for (it in 1:300) { d$h <- -pmax(join - d$x, 0)^p; d$t <- -(if (p == 1) as.numeric(d$x < join) else 2 * pmax(join - d$x, 0))
    m <- lmer(y ~ h + t + (1 | env), d, control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-11), check.scaleX = "ignore"))
    b <- fixef(m); step <- b[["t"]] / b[["h"]]; join <- join + step; if (abs(step) < 1e-11 * join) break }
  s <- unname(sqrt(diag(as.matrix(vcov(m))))); v <- as.data.frame(VarCorr(m))$vcov
  list(plateau = b[[1]], rise = b[["h"]], join = join, se_plateau = s[1], se_rise = s[2], se_join = s[3] / b[["h"]], environment = v[1], residual = v[2]) }
writeLines(toJSON(list("linear-plateau" = fit(1, 80), "quadratic-plateau" = fit(2, 150)), digits = NA, auto_unbox = TRUE, pretty = 1), file.path(here, "mixedPlateau.json"))
