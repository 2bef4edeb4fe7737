# Reference answers for the mixed models, by brute force: every matrix is dense n x n, no use of the block structure.
# Variances start from lme4 and are polished by Newton steps on the exact restricted likelihood; then
# Satterthwaite degrees of freedom (observed information) and Kenward-Roger covariance and degrees of freedom
# (Kenward & Roger 1997, Biometrics 53, 983-997, linear covariance), conditional modes and their prediction errors.
#   Rscript test/oracle/mixed/mixedDense.R       (R 4.2.2, lme4 1.1-31, jsonlite; writes mixedDense.json, mixedInvented.csv)
suppressPackageStartupMessages({ library(lme4); library(jsonlite) })
here <- "test/oracle/mixed"
tr <- function(a) sum(diag(a))

# Invented, unbalanced: 9 environments, 2-3 blocks, 6 hybrids of which each environment grows some, 4-5 densities.
set.seed(20)
invented <- do.call(rbind, lapply(1:9, function(e) {
  hybrids <- sort(sample(1:6, sample(3:5, 1))); blocks <- sample(2:3, 1); densities <- sort(sample(c(20, 25, 30, 35, 40, 45), sample(4:5, 1)))
  expand.grid(environment = paste0("E", e), block = paste0("B", 1:blocks), hybrid = paste0("H", hybrids), density = densities) }))
invented$z <- (invented$density - 32) / 10
u <- matrix(rnorm(18), 9) %*% chol(matrix(c(1, .5, .5, .6), 2)); hy <- rnorm(6, 0, .5); bl <- rnorm(27, 0, .4); eh <- rnorm(54, 0, .4)
ei <- as.integer(factor(invented$environment)); hi <- as.integer(substr(invented$hybrid, 2, 2)); bi <- as.integer(substr(invented$block, 2, 2))
invented$yield <- round(9 + u[ei, 1] + hy[hi] + eh[6 * (ei - 1) + hi] + bl[3 * (ei - 1) + bi] + (0.6 + u[ei, 2]) * invented$z - 0.7 * invented$z^2 + rnorm(nrow(invented), 0, .5), 4)
invented <- invented[-sample(nrow(invented), 25), ]
write.csv(invented[c("environment", "block", "hybrid", "density", "yield")], file.path(here, "mixedInvented.csv"), row.names = FALSE, quote = FALSE)
invented <- read.csv(file.path(here, "mixedInvented.csv")); invented$z <- (invented$density - 32) / 10

elements <- function(fit) { # list of V_k (linear parameters), from lme4's Z of each term
  fl <- getME(fit, "flist"); asg <- attr(fl, "assign"); out <- list(); Zs <- list()
  for (i in seq_along(fit@cnms)) {
    g <- fl[[asg[i]]]; J <- sapply(levels(g), function(l) as.numeric(g == l))
    cols <- lapply(fit@cnms[[i]], function(cn) if (cn == "(Intercept)") rep(1, nobs(fit)) else fit@frame[[cn]])
    for (b in seq_along(cols)) for (a in b:length(cols)) {
      if (a != b && isTRUE(attr(fit, "diag"))) next
      Za <- J * cols[[a]]; Zb <- J * cols[[b]]
      V <- Za %*% t(Zb); if (a != b) V <- V + t(V)
      out[[length(out) + 1]] <- V; Zs[[length(Zs) + 1]] <- list(term = names(fit@cnms)[i], a = a, b = b, Za = Za, Zb = Zb, levels = levels(g))
    } }
  list(V = out, Z = Zs) }

dense <- function(formula, data, tests = list()) {
  fit <- suppressWarnings(suppressMessages(lmer(formula, data, REML = TRUE, control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-9)))))
  y <- getME(fit, "y"); X <- as.matrix(getME(fit, "X")); n <- length(y); p <- ncol(X)
  el <- elements(fit); VC <- as.data.frame(VarCorr(fit))
  psi <- c(sapply(el$Z, function(z) { i <- which(names(fit@cnms) == z$term)[1]; as.matrix(VarCorr(fit)[[z$term]])[z$a, z$b] }), sigma(fit)^2)
  Vk <- c(el$V, list(diag(n))); k <- length(Vk); diagonal <- c(sapply(el$Z, function(z) z$a == z$b), TRUE)
  parts <- function(psi) { V <- Reduce(`+`, Map(`*`, psi, Vk)); Vi <- chol2inv(chol(V)); C <- solve(t(X) %*% Vi %*% X); P <- Vi - Vi %*% X %*% C %*% t(X) %*% Vi
    list(V = V, Vi = Vi, C = C, P = P, Py = drop(P %*% y)) }
  for (it in 1:30) { s <- parts(psi); PV <- lapply(Vk, function(v) s$P %*% v)
    score <- sapply(seq_len(k), function(i) -0.5 * (tr(PV[[i]]) - sum(s$Py * (Vk[[i]] %*% s$Py))))
    H <- outer(seq_len(k), seq_len(k), Vectorize(function(i, j) 0.5 * sum(PV[[i]] * t(PV[[j]])) - sum((Vk[[i]] %*% s$Py) * (s$P %*% (Vk[[j]] %*% s$Py)))))
    step <- solve(H, score); while (any((psi - step)[diagonal] <= 0)) step <- step / 2; psi <- psi - step; if (max(abs(step) / (abs(psi) + 1e-8)) < 1e-13) break }
  s <- parts(psi); PV <- lapply(Vk, function(v) s$P %*% v); b <- drop(s$C %*% t(X) %*% s$Vi %*% y)
  obs <- outer(seq_len(k), seq_len(k), Vectorize(function(i, j) -0.5 * sum(PV[[i]] * t(PV[[j]])) + sum((Vk[[i]] %*% s$Py) * (s$P %*% (Vk[[j]] %*% s$Py)))))
  expd <- outer(seq_len(k), seq_len(k), Vectorize(function(i, j) 0.5 * sum(PV[[i]] * t(PV[[j]]))))
  A <- solve(obs); W <- solve(expd); ViX <- s$Vi %*% X
  Pm <- lapply(Vk, function(v) -t(ViX) %*% v %*% ViX); Phi <- s$C; L <- matrix(0, p, p)
  for (i in 1:k) for (j in 1:k) L <- L + W[i, j] * (t(ViX) %*% Vk[[i]] %*% s$Vi %*% Vk[[j]] %*% ViX - Pm[[i]] %*% Phi %*% Pm[[j]])
  PhiA <- Phi + 2 * Phi %*% L %*% Phi
  sat <- sapply(1:p, function(j) { g <- sapply(1:k, function(i) -(Phi %*% Pm[[i]] %*% Phi)[j, j]); 2 * Phi[j, j]^2 / drop(g %*% A %*% g) })
  kr <- function(Lm) { r <- nrow(Lm); Th <- t(Lm) %*% solve(Lm %*% Phi %*% t(Lm)) %*% Lm; M <- lapply(Pm, function(q) Th %*% Phi %*% q %*% Phi)
    A1 <- 0; A2 <- 0; for (i in 1:k) for (j in 1:k) { A1 <- A1 + W[i, j] * tr(M[[i]]) * tr(M[[j]]); A2 <- A2 + W[i, j] * tr(M[[i]] %*% M[[j]]) }
    B <- (A1 + 6 * A2) / (2 * r); g <- ((r + 1) * A1 - (r + 4) * A2) / ((r + 2) * A2); d <- 3 * r + 2 * (1 - g); c1 <- g / d; c2 <- (r - g) / d; c3 <- (r + 2 - g) / d
    E <- 1 / (1 - A2 / r); Vs <- 2 / r * (1 + c1 * B) / ((1 - c2 * B)^2 * (1 - c3 * B)); rho <- Vs / (2 * E^2); m <- 4 + (r + 2) / (r * rho - 1); lam <- m / (E * (m - 2))
    Fw <- drop(t(Lm %*% b) %*% solve(Lm %*% PhiA %*% t(Lm)) %*% (Lm %*% b)) / r; list(f = lam * Fw, df1 = r, df2 = m) }
  satF <- function(Lm) { r <- nrow(Lm); e <- eigen(Lm %*% Phi %*% t(Lm)); PL <- t(e$vectors) %*% Lm; tq <- drop(PL %*% b)^2 / e$values
    nu <- sapply(1:r, function(j) { g <- sapply(1:k, function(i) -drop(PL[j, ] %*% Phi %*% Pm[[i]] %*% Phi %*% PL[j, ])); 2 * e$values[j]^2 / drop(g %*% A %*% g) })
    Eq <- sum(nu[nu > 2] / (nu[nu > 2] - 2)); list(f = sum(tq) / r, df1 = r, df2 = if (r == 1) nu else 2 * Eq / (Eq - r)) }
  groups <- unique(sapply(el$Z, `[[`, "term"))
  modes <- lapply(groups, function(gn) { zs <- Filter(function(z) z$term == gn, el$Z); w <- max(sapply(zs, `[[`, "a")); lev <- zs[[1]]$levels
    G <- matrix(0, w, w); for (j in seq_along(el$Z)) { z <- el$Z[[j]]; if (z$term == gn) { G[z$a, z$b] <- psi[j]; G[z$b, z$a] <- psi[j] } }
    Zc <- lapply(1:w, function(a) Filter(function(z) z$a == a && z$b == a, zs)[[1]]$Za)
    list(term = gn, levels = lev, values = lapply(seq_along(lev), function(l) as.list(drop(G %*% sapply(Zc, function(Z) sum(Z[, l] * s$Py))))),
         standard_errors = lapply(seq_along(lev), function(l) { Zl <- sapply(Zc, function(Z) Z[, l]); as.list(sqrt(diag(G - G %*% t(Zl) %*% s$P %*% Zl %*% G))) })) })
  ll <- -0.5 * ((n - p) * log(2 * pi) + as.numeric(determinant(s$V)$modulus) + as.numeric(determinant(t(X) %*% s$Vi %*% X)$modulus) + sum(y * s$Py))
  list(formula = deparse1(formula), n = n, loglik = ll, lme4_loglik = as.numeric(logLik(fit)), names = colnames(X),
       components = c(lapply(seq_along(el$Z), function(j) list(term = el$Z[[j]]$term, a = el$Z[[j]]$a, b = el$Z[[j]]$b, value = psi[j])), list(list(term = "Residual", a = 1, b = 1, value = psi[k]))),
       coefficients = unname(b), standard_errors = unname(sqrt(diag(Phi))), satterthwaite_df = sat, kr_standard_errors = unname(sqrt(diag(PhiA))),
       kr_df = sapply(1:p, function(j) kr(diag(p)[j, , drop = FALSE])$df2), kr_vcov = unname(PhiA),
       tests = lapply(tests, function(cols) { stopifnot(all(cols %in% colnames(X))); Lm <- diag(p)[match(cols, colnames(X)), , drop = FALSE]; list(columns = cols, kr = kr(Lm), satterthwaite = satF(Lm)) }), modes = modes)
}
oats <- read.csv(file.path(here, "oats_splitplot_yates.csv")); oats$x <- oats$nitrogen_cwt_ac; oats$x2 <- oats$x^2
potato <- read.csv(file.path(here, "potato_rcbd_missing_yates.csv")); potato <- potato[!is.na(potato$infection), ]
theobald <- read.csv(file.path(here, "barley_nitrogen_met_theobald.csv")); theobald$x <- theobald$nitrogen_kg_ha / 100; theobald$x2 <- theobald$x^2; theobald$env <- paste(theobald$year, theobald$location); theobald <- theobald[!is.na(theobald$yield_t_ha), ]
d <- invented; d$z2 <- d$z^2
out <- list(
  oats_quadratic = dense(yield_qlb ~ variety + x + x2 + (1 | block) + (1 | block:variety), oats, list(c("x", "x2"), c("varietyMarvellous", "varietyVictory"))),
  potato = dense(infection ~ treatment + (1 | block), potato, list(c("treatmentn", "treatmentp"))),
  theobald = dense(yield_t_ha ~ variety + x + x2 + (1 | env) + (1 | env:variety), theobald, list(c("x", "x2"))),
  invented_slope = dense(yield ~ z + z2 + (1 + z | environment) + (1 | environment:block), d, list(c("z", "z2"))),
  invented_crossed = dense(yield ~ z + z2 + (1 + z | environment) + (1 | environment:block) + (1 | hybrid), d, list(c("z", "z2"))),
  invented_hybrid = dense(yield ~ hybrid * (z + z2) + (1 + z | environment) + (1 | environment:block) + (1 | environment:hybrid), d, list(paste0("hybridH", 2:6, ":z"), c(paste0("hybridH", 2:6, ":z"), paste0("hybridH", 2:6, ":z2")))))
# Error of a prediction for one environment, from the inverse of Henderson's mixed-model equations: E1 at z = 0.5.
o <- out$invented_slope; cmp <- sapply(o$components, `[[`, "value"); s2 <- cmp[5]
G1 <- matrix(c(cmp[2], cmp[3], cmp[3], cmp[4]), 2); X <- cbind(1, d$z, d$z2)
env <- factor(d$environment); eb <- factor(paste(d$environment, d$block)); J <- model.matrix(~ 0 + env); Zb <- model.matrix(~ 0 + eb)
Z <- cbind(do.call(cbind, lapply(seq_len(nlevels(env)), function(e) cbind(J[, e], J[, e] * d$z))), Zb)
Gi <- as.matrix(Matrix::bdiag(c(rep(list(solve(G1)), nlevels(env)), rep(list(1 / cmp[1]), nlevels(eb)))))
M <- solve(rbind(cbind(t(X) %*% X, t(X) %*% Z), cbind(t(Z) %*% X, t(Z) %*% Z + s2 * Gi)) / s2)
sol <- M %*% rbind(t(X) %*% d$yield, t(Z) %*% d$yield) / s2; l <- numeric(ncol(M)); l[1:5] <- c(1, .5, .25, 1, .5)
out$conditional <- list(environment = levels(env)[1], z = 0.5, prediction = sum(l * sol), se = sqrt(drop(l %*% M %*% l)))
writeLines(toJSON(out, digits = NA, auto_unbox = TRUE, pretty = 1), file.path(here, "mixedDense.json"))
