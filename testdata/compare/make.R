# Makes the check values of trial/compare with R's own functions.
# Run: Rscript testdata/compare/make.R > testdata/compare/values.csv
suppressMessages(library(survival))
options(digits = 15)
cat("what,data,result,value\n")
put <- function(what, data, result, value) cat(sprintf("%s,%s,%s,%.15g\n", what, data, result, value))
j <- function(...) paste(c(...), collapse = " ")

# Clopper-Pearson: binom.test
for (k in list(c(0,3), c(1,3), c(3,3), c(1,5), c(2,7), c(0,10), c(5,10), c(13,40), c(1,100))) {
  ci <- binom.test(k[1], k[2])$conf.int
  put("clopper-pearson", j(k), "low", ci[1]); put("clopper-pearson", j(k), "high", ci[2])
}

# standard deviation: chi-square interval, as factors of the sd found
for (n in c(2, 3, 5, 8, 12, 30)) {
  put("sd-interval", n, "low", sqrt((n-1)/qchisq(0.975, n-1)))
  put("sd-interval", n, "high", sqrt((n-1)/qchisq(0.025, n-1)))
}

# coefficient of variation: exact, by the non-central t distribution of sqrt(n)/cv
cvexact <- function(cv, n) {
  t <- sqrt(n)/cv
  f <- function(p) function(k) pt(t, n-1, ncp = sqrt(n)/k) - p
  c(uniroot(f(0.025), c(cv/20, cv), tol = 1e-12)$root, uniroot(f(0.975), c(cv, cv*40), tol = 1e-12)$root)
}
for (c in list(c(0.1,5), c(0.1,8), c(0.2,5), c(0.2,10), c(0.3,10), c(0.15,20))) {
  e <- suppressWarnings(cvexact(c[1], c[2]))
  put("cv-exact", j(c), "low", e[1]); put("cv-exact", j(c), "high", e[2])
}

# Kaplan-Meier medians: survfit. A plus sign marks a lower bound.
km <- function(v, event) {
  f <- survfit(Surv(v, event) ~ 1)
  put("kaplan-meier", j(paste0(v, ifelse(event == 1, "", "+"))), "median", unname(quantile(f, 0.5)$quantile))
}
km(c(3,5,8), c(1,1,1)); km(c(3,5,8,8), c(1,1,0,0)); km(c(3.1,4.2,5.3,8,8), c(1,1,1,0,0)); km(c(3,4,5,6), c(1,1,1,1))
km(c(2,3,3,4,6,7), c(1,0,1,1,0,1)); km(c(8,8,8), c(0,0,0)); km(c(5,8,8), c(1,0,0)); km(c(2.5,2.5,3,3,4,9,9,9), c(1,0,1,1,1,0,0,1))
# aml, maintained group: Miller, Survival Analysis (1981) p. 49, as shipped with the survival package
a <- aml[aml$x == "Maintained", ]; km(a$time, a$status)
a <- aml[aml$x == "Nonmaintained", ]; km(a$time, a$status)

# sign-flip randomisation of paired differences: counted here
flips <- function(d) {
  n <- length(d); g <- as.matrix(expand.grid(rep(list(c(-1,1)), n)))
  s <- abs(g %*% d); put("sign-flips", j(d), "p", mean(s >= abs(sum(d)) - 1e-9))
}
# Darwin's plants, differences in eighths of an inch: Fisher, Design of Experiments (1935), section 17
flips(c(49,-67,8,16,6,23,28,41,14,29,56,24,75,60,-48))
flips(c(1.2,0.4,-0.3,0.9,2.1)); flips(c(0.5,0.5,-0.5,1.5,-2,3,0.25))
for (k in list(c(5,0), c(4,1), c(7,1), c(9,3), c(6,6))) put("sign-test", j(k), "p", binom.test(k[1], sum(k))$p.value)

# two groups: wilcox.test, exact
w <- function(a, b) put("rank-test", paste(j(a), "/", j(b)), "p", wilcox.test(a, b, exact = TRUE)$p.value)
w(c(0.80,0.83,1.89,1.04,1.45,1.38,1.91,1.64,0.73,1.46), c(1.15,0.88,0.90,0.74,1.21))  # Hollander & Wolfe (1973) p. 69, as in ?wilcox.test
w(c(3.1,4.2,5.3), c(6.1,7.2,8.3)); w(c(1,2,3,4,10), c(5,6,7,8,9))

# Friedman: the statistic of friedman.test, and the p counted over all arrangements of three columns
perms <- function(r) { k <- length(r); if (k == 1) return(matrix(r, 1)); o <- NULL; for (i in 1:k) o <- rbind(o, cbind(r[i], perms(r[-i]))); o }
fr <- function(m, p = TRUE) {
  data <- paste(apply(m, 1, j), collapse = " / ")
  put("friedman", data, "statistic", unname(friedman.test(m)$statistic))
  if (!p) return(invisible())
  r <- t(apply(m, 1, rank)); k <- ncol(m); mid <- nrow(m)*(k+1)/2
  seen <- sum((colSums(r) - mid)^2)
  tot <- matrix(0, 1, k)
  for (i in 1:nrow(r)) { q <- perms(r[i,]); tot <- do.call(rbind, lapply(1:nrow(q), function(z) sweep(tot, 2, q[z,], "+"))) }
  put("friedman", data, "p", mean(rowSums((tot - mid)^2) >= seen - 1e-9))
}
fr(rbind(c(1.2,2.3,3.1), c(2.0,2.2,4.1), c(1.0,3.3,2.9), c(1.1,1.9,2.5)))
fr(rbind(c(1,2,3), c(1,2,3), c(1,2,3), c(1,2,3), c(1,2,3)))
fr(rbind(c(5,5,3), c(4,2,1), c(6,6,6), c(7,5,5)))
fr(rbind(c(1,3,2,4), c(2,1,3,4), c(1,2,4,3), c(1,2,3,4)))
# Rounding times of baseball players: Hollander & Wolfe (1973) p. 140, as in ?friedman.test
fr(matrix(c(5.40,5.50,5.55,5.85,5.70,5.75,5.20,5.60,5.50,5.55,5.50,5.40,5.90,5.85,5.70,5.45,5.55,5.60,5.40,5.40,5.35,5.45,5.50,5.35,5.25,5.15,5.00,5.85,5.80,5.70,5.25,5.20,5.10,5.65,5.55,5.45,5.60,5.35,5.45,5.05,5.00,4.95,5.50,5.50,5.40,5.45,5.55,5.50,5.55,5.55,5.35,5.45,5.50,5.55,5.50,5.45,5.25,5.65,5.60,5.40,5.70,5.65,5.55,6.30,6.30,6.25), ncol = 3, byrow = TRUE), FALSE)

# Holm: p.adjust
for (p in list(c(0.01,0.02,0.03,0.04), c(0.0625,0.0625,0.5), c(0.001,0.8,0.02,0.02,0.049))) {
  a <- p.adjust(p, "holm"); for (i in seq_along(p)) put("holm", j(p), i, a[i])
}

# power law: lm on logarithms. Invented data: mass kg : force N
pl <- function(m, h) {
  f <- lm(log(h) ~ log(m)); ci <- confint(f)[2,]; d <- paste0(m, ":", h, collapse = " ")
  put("power-law", d, "a", exp(unname(coef(f)[1]))); put("power-law", d, "b", unname(coef(f)[2]))
  put("power-law", d, "b-low", ci[1]); put("power-law", d, "b-high", ci[2])
}
pl(c(10,10,16,16,25,25), c(2100,1900,3000,3300,4600,4200)); pl(c(8,8,8,20,20), c(1500,1700,1600,3300,3900))
cat(sprintf("version,%s,r,%s\n", gsub(",", "", R.version.string), paste0(R.version$major, ".", R.version$minor)))
