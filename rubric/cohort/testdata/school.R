#!/usr/bin/env Rscript
# Make school.R.json, values of R to check this package against. Made with R
# 4.2.2, psych 2.2.9 and jsonlite (Debian's r-base-core, r-cran-psych and
# r-cran-jsonlite). R has no paired Newcombe interval: it is written out below from
# the paper, on R's own prop.test.
#
# Use: Rscript school.R > school.R.json
suppressPackageStartupMessages({library(psych); library(jsonlite)})
set.seed(20261128)
out <- list()

paired <- function(t) {
  n <- sum(t); a <- t[1] + t[2]; b <- t[1] + t[3]
  l <- prop.test(a, n, correct = FALSE)$conf.int; m <- prop.test(b, n, correct = FALSE)$conf.int
  p <- a / n; q <- b / n
  d <- sqrt(a * (n - a)) * sqrt(b * (n - b))
  cross <- t[1] * t[4] - t[2] * t[3]
  phi <- if (d == 0) 0 else if (cross > n / 2) (cross - n / 2) / d else if (cross >= 0) 0 else cross / d
  mix <- function(x, y) sqrt(x^2 - 2 * phi * x * y + y^2)
  c(p - q - mix(p - l[1], m[2] - q), p - q + mix(l[2] - p, q - m[1]))
}
out$paired <- suppressWarnings(lapply(1:60, function(i) {
  t <- floor(runif(4, 0, sample(c(2, 6, 30, 400), 1))) + c(1, 0, 0, 0)
  ci <- paired(t)
  list(table = t, low = ci[1], high = ci[2])
}))

out$fisher <- lapply(1:60, function(i) {
  n <- sample(c(3, 8, 25, 120), 2, TRUE); h <- sapply(n, function(m) sample(0:m, 1))
  list(a = c(h[1], n[1]), b = c(h[2], n[2]), p = fisher.test(rbind(h, n - h))$p.value)
})

out$adjust <- lapply(c(1, 3, 20, 130), function(n) {
  p <- runif(n)^4
  list(p = I(p), adjusted = I(p.adjust(p, "BH")))
})

numbers <- function(n) round(rnorm(n, sample(c(0, 30, 1800), 1), sample(c(1, 7), 1)), 3)
out$welch <- lapply(1:40, function(i) {
  a <- numbers(sample(2:40, 1)); b <- numbers(sample(2:40, 1))
  r <- t.test(a, b)
  list(a = a, b = b, low = r$conf.int[1], high = r$conf.int[2], p = r$p.value)
})
out$mean <- lapply(1:20, function(i) {
  a <- numbers(sample(2:60, 1)); r <- t.test(a)
  list(a = a, mean = mean(a), low = r$conf.int[1], high = r$conf.int[2], p = r$p.value)
})

# Items that hang together, with scores of 0 and 1 or of several steps.
out$reliability <- suppressMessages(suppressWarnings(lapply(1:16, function(i) {
  n <- sample(c(6, 12, 40, 150), 1); k <- sample(3:20, 1)
  able <- rnorm(n)
  x <- sapply(1:k, function(j) able * runif(1, 0, 1.5) + rnorm(n))
  if (i %% 2) x <- (x > 0) * 1 else x <- round(x, 2)
  x <- x[, apply(x, 2, sd) > 0]; k <- ncol(x)
  r <- psych::alpha(x, check.keys = FALSE, warnings = FALSE)
  a <- r$total$raw_alpha
  ci <- alpha.ci(a, n, k)
  z <- t(sapply(1:k, function(j) cor.test(x[, j], rowSums(x[, -j, drop = FALSE]))$conf.int))
  list(x = x, alpha = a, low = ci$lower.ci, high = ci$upper.ci, rest = r$item.stats$r.drop,
       without = r$alpha.drop$raw_alpha, rest_low = z[, 1], rest_high = z[, 2])
})))

out$power <- lapply(1:40, function(i) {
  p <- round(runif(2, 0.02, 0.98), 3); if (abs(p[1] - p[2]) < 0.05) p[2] <- (p[1] + 0.4) %% 0.98
  pw <- sample(c(0.8, 0.9), 1); al <- sample(c(0.05, 0.01), 1)
  list(p1 = p[1], p2 = p[2], alpha = al, power = pw,
       n = power.prop.test(p1 = p[1], p2 = p[2], sig.level = al, power = pw, tol = 1e-12)$n)
})
cat(toJSON(out, digits = NA, auto_unbox = TRUE))
