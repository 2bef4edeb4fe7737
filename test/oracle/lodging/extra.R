# Further references for test/standability and test/fit, by R 4.2.2 (stats, MASS 7.3-58.2, lme4 1.1-31).
# Run in this folder: Rscript extra.R > extra.json
suppressPackageStartupMessages({ library(jsonlite); library(MASS); library(lme4) })
options(digits = 15)
src <- fromJSON("binomial.json")$data
sim07 <- as.data.frame(src[["sim07_lodging_counts.csv"]]); sep <- as.data.frame(src[["sim09_lodging_separation.csv"]])
oro <- as.data.frame(src[["orobanche_binomial_crowder.csv"]])
ctl <- glm.control(epsilon = 1e-15, maxit = 200)
# Richardson-extrapolated central differences
rich <- function(d) { h <- 0.02 / 2^(0:4); a <- lapply(h, d); for (j in 1:4) a <- lapply(seq_len(length(a) - 1), function(i) (4^j * a[[i + 1]] - a[[i]]) / (4^j - 1)); a[[1]] }
grad <- function(f, b) { s <- pmax(abs(b), 0.1); sapply(seq_along(b), function(i) rich(function(h) { e <- replace(0 * b, i, h * s[i]); (f(b + e) - f(b - e)) / (2 * h * s[i]) })) }
hessian <- function(f, b) { s <- pmax(abs(b), 0.1); p <- length(b); H <- matrix(0, p, p); for (i in 1:p) for (j in 1:i) H[i, j] <- H[j, i] <- rich(function(h) { e <- replace(0 * b, i, h * s[i]); d <- replace(0 * b, j, h * s[j])
  if (i == j) (f(b + e) - 2 * f(b) + f(b - e)) / (h * s[i])^2 else (f(b + e + d) - f(b + e - d) - f(b - e + d) + f(b - e - d)) / (4 * h^2 * s[i] * s[j]) }); H }
polish <- function(f, b) { # Newton steps on numerical derivatives until they stop helping
  for (i in 1:20) { g <- grad(f, b); H <- hessian(f, b); b2 <- b - solve(H, g); if (f(b2) > f(b) + 1e-9 || max(abs(b2 - b)) < 1e-13 * max(1, abs(b))) break; b <- b2 }
  b }
out <- list(meta = list(generated_with = R.version.string))

# --- cloglog, with and without blocks; z = (density - 90) / 30 keeps the numerical derivatives honest
sim07$z <- (sim07$density - 90) / 30
X1 <- cbind(1, sim07$z); k <- sim07$lodged; n <- sim07$plants
m <- glm(cbind(lodged, plants - lodged) ~ density, binomial("cloglog"), sim07, control = ctl)
mu <- fitted(m); w <- n * m$family$mu.eta(m$linear.predictors)^2 / (mu * (1 - mu)); X <- model.matrix(m)
out$cloglog <- list(coef = unname(coef(m)), vcov = unname(solve(crossprod(X * sqrt(w)))), deviance = deviance(m), pearson = sum((k - n * mu)^2 / (n * mu * (1 - mu))), loglik = as.numeric(logLik(m)))

# --- bias-reduced: maximum of loglik + 0.5 log |X'WX| by BFGS and Newton on numerical derivatives
pen <- function(X, k, n, link) function(b) { eta <- drop(X %*% b); lk <- make.link(link); mu <- lk$linkinv(eta); d <- lk$mu.eta(eta); w <- n * d^2 / (mu * (1 - mu))
  -(sum(dbinom(k, n, mu, log = TRUE)) + 0.5 * determinant(crossprod(X * sqrt(w)))$modulus) }
firth <- function(X, k, n, link = "logit") { f <- pen(X, k, n, link); b <- optim(rep(0, ncol(X)), f, method = "BFGS", control = list(reltol = 1e-15, maxit = 1000))$par; b <- polish(f, b); list(coef = b, value = -as.numeric(f(b))) }
zs <- (sep$density - 85) / 25
out$firth <- list(sim07_logit = firth(X1, k, n), sim07_cloglog = firth(X1, k, n, "cloglog"), separated = firth(cbind(1, zs), sep$lodged, sep$plants), separated_cloglog = firth(cbind(1, zs), sep$lodged, sep$plants, "cloglog"),
  top_only = firth(cbind(1, c(-1, -1/3, 1/3, 1)), c(0, 0, 0, 12), rep(50, 4)), note = "coefficients on z: sim07 (density - 90) / 30, separated (density - 85) / 25, top_only -1, -1/3, 1/3, 1")

# --- beta-binomial: parameters (coefficients, theta) with theta = icc / (1 - icc)
bb <- function(X, k, n) function(p) { b <- p[-length(p)]; th <- p[length(p)]; if (th <= 0) return(1e10); mu <- plogis(drop(X %*% b)); a <- mu / th; bb <- (1 - mu) / th
  -sum(lchoose(n, k) + lbeta(k + a, n - k + bb) - lbeta(a, bb)) }
fit_bb <- function(X, k, n) { f <- bb(X, k, n); st <- c(coef(glm(cbind(k, n - k) ~ 0 + X, binomial)), 0.02); o <- optim(st, f, control = list(reltol = 1e-15, maxit = 5000)); o <- optim(o$par, f, method = "BFGS", control = list(reltol = 1e-15)); p <- polish(f, o$par)
  H <- hessian(f, p); se <- sqrt(diag(solve(H))); list(par = unname(p), se = unname(se), icc = p[length(p)] / (1 + p[length(p)]), loglik = -f(p)) }
Xo <- model.matrix(~ genotype * extract, oro)
Xb <- model.matrix(~ 0 + block + z, sim07)
out$beta_binomial <- list(sim07 = fit_bb(X1, k, n), sim07_blocks = fit_bb(Xb, k, n), orobanche = fit_bb(Xo, oro$germinated, oro$seeds), note = "last entry of par is theta; sim07 on z = (density - 90) / 30; sim07_blocks: one level per block, then z; orobanche: (Intercept), O75, cucumber, interaction")

# --- interaction of a group with density: sim07 with invented groups G1 (blocks 1, 2) and G2 (blocks 3, 4), and block as group
sim07$g <- ifelse(sim07$block %in% c("B1", "B3"), "G1", "G2")
sim07$rep <- ifelse(sim07$block %in% c("B1", "B2"), "R1", "R2")
ms <- glm(cbind(lodged, plants - lodged) ~ rep + g + density, binomial, sim07, control = ctl); ml <- glm(cbind(lodged, plants - lodged) ~ rep + g + g:density, binomial, sim07, control = ctl)
mn <- glm(cbind(lodged, plants - lodged) ~ rep + density, binomial, sim07, control = ctl); m0 <- glm(cbind(lodged, plants - lodged) ~ rep + g, binomial, sim07, control = ctl)
phi <- sum((k - n * fitted(ml))^2 / (n * fitted(ml) * (1 - fitted(ml)))) / df.residual(ml)
ff <- function(a, b, d) { s <- (deviance(a) - deviance(b)) / d / phi; list(f = s, p = pf(s, d, df.residual(ml), lower.tail = FALSE)) }
out$interaction <- list(phi = phi, interaction = ff(ms, ml, 1), group = ff(mn, ms, 1), density = ff(m0, ms, 1), slopes = unname(coef(ml)[c("gG1:density", "gG2:density")]))

# --- ratings 1 to 9 (invented): polr, then Newton on its own likelihood with numerical derivatives
rt <- data.frame(density = rep(c(24, 28, 32, 36, 40), each = 6), block = rep(paste0("R", 1:3), 10),
  rating = c(1,1,2,1,2,1, 2,1,1,2,3,2, 3,2,2,3,1,4, 3,5,2,4,3,3, 5,4,3,7,5,4))
rt$z <- (rt$density - 32) / 8
ord <- function(X, y) { lev <- sort(unique(y)); r <- match(y, lev); K <- length(lev) - 1; function(p) { z <- c(-Inf, p[1:K], Inf); eta <- drop(X %*% p[-(1:K)]); pr <- plogis(z[r + 1] - eta) - plogis(z[r] - eta); if (any(pr <= 0)) return(1e10); -sum(log(pr)) } }
fit_ord <- function(form, X) { m <- polr(form, rt, Hess = TRUE, control = list(reltol = 1e-15, maxit = 1000)); f <- ord(X, rt$rating); p <- polish(f, c(m$zeta, coef(m))); V <- solve(hessian(f, p)); list(zeta_beta = unname(p), se = unname(sqrt(diag(V))), vcov = unname(V), loglik = -f(p), polr_coef = unname(coef(m)), polr_zeta = unname(m$zeta), polr_se = unname(sqrt(diag(vcov(m)))), polr_loglik = as.numeric(logLik(m))) }
out$ratings <- list(data = as.list(rt[c("density", "block", "rating")]), plain = fit_ord(factor(rating) ~ z, cbind(rt$z)), blocks = fit_ord(factor(rating) ~ z + block, model.matrix(~ z + block, rt)[, -1]), null_loglik_blocks = as.numeric(logLik(polr(factor(rating) ~ block, rt, control = list(reltol = 1e-15, maxit = 1000)))), null_loglik = { t <- table(rt$rating); sum(t * log(t / sum(t))) }, note = "z = (density - 32) / 8; zeta first, then slope, then blocks R2, R3 (R1 is the base)")

# --- random intercept: sim07 blocks as environments, 25-point adaptive quadrature and Laplace
gm <- function(q) { m <- glmer(cbind(lodged, plants - lodged) ~ z + (1 | block), sim07, binomial, nAGQ = q, control = glmerControl(optimizer = "bobyqa", optCtrl = list(rhobeg = 0.1, rhoend = 1e-10, maxfun = 1e5), tolPwrss = 1e-14)); list(coef = unname(fixef(m)), sd = as.data.frame(VarCorr(m))$sdcor, loglik = as.numeric(logLik(m)), se = unname(sqrt(diag(as.matrix(vcov(m))))), modes = unname(ranef(m)$block[, 1])) }
out$mixed <- list(laplace = gm(1), aghq25 = gm(25), note = "z = (density - 90) / 30; loglik of lme4 with nAGQ > 1 leaves out a constant")
# the exact marginal likelihood by numerical integration, as the independent route
marg <- function(p) { b <- p[1:2]; s <- exp(p[3]); tot <- 0; for (g in unique(sim07$block)) { d <- sim07[sim07$block == g, ]; h <- function(u) sapply(u, function(v) sum(dbinom(d$lodged, d$plants, plogis(b[1] + b[2] * d$z + s * v), log = TRUE)))
  o <- optimize(function(v) h(v) + dnorm(v, log = TRUE), c(-8, 8), maximum = TRUE); tot <- tot + o$objective + log(integrate(function(v) exp(h(v) + dnorm(v, log = TRUE) - o$objective), o$maximum - 8, o$maximum + 8, rel.tol = 1e-12, subdivisions = 2000)$value) }
  -tot }
o <- optim(c(out$mixed$aghq25$coef, log(out$mixed$aghq25$sd)), marg, control = list(reltol = 1e-15, maxit = 3000)); p <- polish(marg, o$par); V <- solve(hessian(marg, p))
out$mixed$exact <- list(coef = p[1:2], sd = exp(p[3]), loglik = -marg(p), se = sqrt(diag(V))[1:2])
# --- shares without counts: quasi-likelihood with weight 1 per plot
sh <- sim07; sh$share <- round(sh$lodged / sh$plants, 2)
m <- glm(share ~ density, quasibinomial, sh, control = ctl); mu <- fitted(m); phi <- sum((sh$share - mu)^2 / (mu * (1 - mu))) / df.residual(m); X <- model.matrix(m)
out$shares <- list(share = sh$share, coef = unname(coef(m)), se = unname(sqrt(phi * diag(solve(crossprod(X * sqrt(mu * (1 - mu))))))), phi = phi, deviance = deviance(m))

# --- deviance when the share averaged over blocks is forced to 10 % at a density (sim07 with block levels)
dev <- function(mu) 2 * sum(ifelse(k > 0, k * log(k / (n * mu)), 0) + ifelse(k < n, (n - k) * log((n - k) / (n * (1 - mu))), 0))
bl <- match(sim07$block, unique(sim07$block))
forced <- function(at, link) { inv <- make.link(link)$linkinv; z0 <- (at - 90) / 30
  f <- function(q) { d <- c(0, q[1:3]); s <- uniroot(function(s) mean(inv(s + d + q[4] * z0)) - 0.1, c(-60, 60), tol = 1e-15)$root; dev(inv(s + d[bl] + q[4] * sim07$z)) }
  o <- optim(c(-0.3, -0.4, -0.7, 2), f, control = list(reltol = 1e-15, maxit = 5000)); o <- optim(o$par, f, control = list(reltol = 1e-15, maxit = 5000)); min(f(polish(f, o$par)), o$value) }
out$forced <- list(at = c(70, 76, 80, 84), logit = sapply(c(70, 76, 80, 84), forced, "logit"), cloglog = sapply(c(70, 76, 80, 84), forced, "cloglog"),
  free = sapply(c("logit", "cloglog"), function(l) deviance(glm(cbind(lodged, plants - lodged) ~ block + density, binomial(l), sim07, control = ctl)), USE.NAMES = FALSE), note = "deviances; rows as at; free: logit, cloglog")
cat(toJSON(out, digits = I(15), auto_unbox = TRUE, pretty = 1), "\n")
