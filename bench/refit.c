/*
 * The bootstrap refit of the quadratic-plateau in C: the yardstick of bench/refit.bench.mjs, compiled with -O2 when a compiler is present.
 *
 * The algorithm is that of src/interval/{sampler,accumulator,curveDraws,limits}.ts and src/numeric/{refitKernel,sortedWhereRead}.ts: the same
 * random numbers, the same sums, the same sweep over the join, the same curves kept, the same ranks read. Single family, equal weights,
 * every density once in every block. What does not depend on the draws (residual pool, fitted sums, Q by powers) comes in as numbers.
 *
 * Usage: refit INPUT OUTPUT. INPUT: numbers in the order read in main. OUTPUT: family, a, b, c, rss of every replicate, as doubles.
 * Prints microseconds of processor time a replicate and the median and 95 % limits of the optimum, scaled density.
 */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { ROW = 25, STREAM = 1000 };

typedef struct {
  int n, m, blocks, *level, *block_end;
  double *pool, *drawn, *errors, *block_weight, *level_weight, *fit_sums, *twice_curve, *scaled, *share, *fixed;
  double fit_total, fit_level, per_weight, level_mean;
  double per_uu, uv_share, per_rest, mean_u;
  uint32_t a, b, c, counter;
} Job;

typedef struct {
  double gain, curvature, join, line;
} Fit;

static uint32_t next32(Job *j) {
  uint32_t t = j->a + j->b + j->counter;
  j->counter++;
  j->a = j->b ^ (j->b >> 9);
  j->b = j->c + (j->c << 3);
  j->c = ((j->c << 21) | (j->c >> 11)) + t;
  return t;
}

static void begin(Job *j, uint64_t seed, uint32_t stream) {
  j->a = (uint32_t)seed;
  j->b = (uint32_t)(seed >> 32);
  j->c = stream;
  j->counter = 1;
  for (int i = 0; i < 16; i++) next32(j);
}

/* New yields, reduced to level sums and total. */
static double draw(Job *j, double *sums) {
  uint32_t a = j->a, b = j->b, c = j->c, counter = j->counter;
  for (int i = 0; i < j->n; i++) {
    uint32_t t = a + b + counter++;
    a = b ^ (b >> 9);
    b = c + (c << 3);
    c = ((c << 21) | (c >> 11)) + t;
    j->drawn[i] = j->pool[((uint64_t)t * (uint32_t)j->n) >> 32];
  }
  j->a = a, j->b = b, j->c = c, j->counter = counter;

  double squares = 0, between = 0, all = 0, means = 0;
  for (int block = 0, i = 0; block < j->blocks; block++) {
    double sum = 0;
    for (int end = j->block_end[block]; i < end; i++) {
      double e = j->drawn[i];
      sum += e;
      squares += e * e;
      j->errors[j->level[i]] += e;
    }
    double mean = sum / j->block_weight[block];
    between += sum * mean;
    all += sum;
    means += mean;
  }
  double mean = all * j->per_weight, cross = 0;
  for (int l = 0; l < j->m; l++) {
    double error = j->errors[l] - j->level_weight[l] * mean;
    j->errors[l] = 0;
    cross += j->twice_curve[l] * error;
    sums[l] = j->fit_sums[l] + error;
  }
  j->level_mean = j->fit_level + means / j->blocks;
  return j->fit_total + squares - between + cross;
}

static double falling_root(double d0, double d1, double d2, double d3, double d4) {
  double a1 = 4 * (d1 - d0), a2 = 6 * (d2 - 2 * d1 + d0), a3 = 4 * (d3 - 3 * d2 + 3 * d1 - d0);
  double a4 = d4 - 4 * d3 + 6 * d2 - 4 * d1 + d0;
  double half = (d0 + d4) / 16 + (d1 + d3) / 4 + 0.375 * d2;
  double bend = 2 * (d0 - 2 * half + d4), fall = 3 * d0 - 4 * half + d4;
  double t = 2 * d0 / (fall + sqrt(fall * fall - 4 * bend * d0)), before = 0;
  for (int i = 0; i < 12; i++) {
    double value = d0 + t * (a1 + t * (a2 + t * (a3 + t * a4)));
    double slope = a1 + t * (2 * a2 + t * (3 * a3 + t * (4 * a4)));
    double step = value / slope, squared = step * step;
    t -= step;
    if (fabs(step) * squared <= 1e-16 * before) {
      if (t > 0 && t < 1) return t;
      break;
    }
    before = squared;
  }
  for (double low = 0, high = 1;;) {
    double middle = (low + high) / 2;
    if (middle <= low || middle >= high) return middle;
    if (d0 + middle * (a1 + middle * (a2 + middle * (a3 + middle * a4))) > 0) low = middle;
    else high = middle;
  }
}

static double denominator(const double *row, double t) {
  return row[9] + t * (row[10] + t * (row[11] + t * (row[12] + t * row[6])));
}

static int sign_changes(const double *b) {
  int changes = 0;
  double previous = 0;
  for (int i = 0; i < 5; i++) {
    if (b[i] * previous < 0) changes++;
    if (b[i] != 0) previous = b[i];
  }
  return changes;
}

/* All stationary points of one interval by halving; keeps the one with the largest gain. */
static void visit(const double *b, double low, double width, int depth, const double *row, double s0, double n1, double n2, double *root, double *most) {
  int changes = sign_changes(b);
  if (changes == 0) return;
  double left[5], right[5];
  for (int i = 0; i < 5; i++) right[i] = b[i];
  for (int r = 0; r < 5; r++) {
    left[r] = right[0];
    for (int i = 0; i < 4 - r; i++) right[i] = (right[i] + right[i + 1]) / 2;
  }
  if (changes > 1 && depth < 52) {
    visit(left, low, width / 2, depth + 1, row, s0, n1, n2, root, most);
    visit(right, low + width / 2, width / 2, depth + 1, row, s0, n1, n2, root, most);
    return;
  }
  double inside = 0.5;
  if (changes == 1 && b[0] > 0 && b[4] < 0) inside = falling_root(b[0], b[1], b[2], b[3], b[4]);
  else if (changes == 1) inside = falling_root(-b[0], -b[1], -b[2], -b[3], -b[4]);
  double share = low + width * inside, t = share * row[0], n = -n2 - t * (n1 + t * s0), q = denominator(row, t);
  if (n > 0 && q > row[13] && n * n > *most * q) *most = n * n / q, *root = share;
}

static Fit fit(const Job *j, const double *sums) {
  const double *row = j->fixed, *scaled = j->scaled;
  double t1 = 0, t2 = 0;
  for (int l = 0; l < j->m; l++) {
    double su = sums[l] * scaled[l];
    t1 += su;
    t2 += su * scaled[l];
  }
  double line = t1 * j->per_uu, line_gain = line * t1, left = t2 - j->uv_share * t1, b2 = left * j->per_rest;
  double b1 = line - j->uv_share * b2, quadratic_gain = line_gain + b2 * left;
  Fit best = {0, 0, 0, line};
  double s0 = sums[0], s1 = row[0] * s0, s2 = row[0] * s1;
  double end = row[14] * (s0 + sums[1]) + row[15] * s1 + row[16] * s2;
  row += ROW;
  for (int k = 1; k < j->m - 1; k++, row += ROW) {
    if (s2 < 0) {
      double g = s2 * s2 * row[8];
      if (g > best.gain) best.gain = g, best.join = scaled[k], best.curvature = -s2 * row[8];
    }
    s0 += sums[k];
    double w = row[0], n1 = 2 * s1, n2 = s2, d0 = end;
    double d1 = row[16] * s0 + row[17] * s1 + row[18] * s2;
    double d2 = row[19] * s0 + row[20] * s1 + row[21] * s2;
    double d3 = row[22] * s0 + row[23] * s1 + row[24] * s2;
    s2 += w * (n1 + w * s0);
    s1 += w * s0;
    end = row[ROW + 14] * s1 + row[ROW + 15] * s2;
    double root = 0;
    if (d0 > 0) {
      if (end > 0) {
        if (d1 > 0 && d2 > 0 && d3 > 0) continue;
      } else if (d1 > 0 ? d2 > 0 || !(d3 > 0) : !(d2 > 0 || d3 > 0)) root = falling_root(d0, d1, d2, d3, end);
    } else if (end > 0) {
      if (d1 > 0 ? d2 > 0 && d3 > 0 : !(d2 > 0) || d3 > 0) continue;
    } else if (!(d1 > 0 || d2 > 0 || d3 > 0)) continue;
    if (root == 0) {
      double b[5] = {d0, d1, d2, d3, end}, most = 0;
      visit(b, 0, 1, 0, row, s0, n1, n2, &root, &most);
      if (root == 0) continue;
    }
    double t = root * w, n = -n2 - t * (n1 + t * s0), q = denominator(row, t), here = n / q, g = n * here;
    if (n > 0 && g > best.gain && q > row[13]) best.gain = g, best.join = scaled[k] + t, best.curvature = here;
  }
  if (b2 < 0 && b1 + 2 * b2 >= 0 && quadratic_gain > best.gain)
    best.gain = quadratic_gain, best.curvature = -b2, best.join = -b1 / (2 * b2);
  if (line > 0 && line_gain > best.gain) best.gain = line_gain, best.curvature = 0, best.join = INFINITY;
  return best;
}

static int ascending(const void *x, const void *y) {
  double a = *(const double *)x, b = *(const double *)y;
  return (a > b) - (a < b);
}

/*
 * What the layout alone fixes about every level and the interval above it, in the places that refitKernel.ts gives them. `q` holds Q by powers
 * of t for each interval, `least` the share of (J - base)^4 that Q must exceed.
 */
static double *fixed_parts(int m, const double *u, const double *q, const double *least, double base) {
  double *fixed = calloc((size_t)m * ROW, sizeof *fixed);
  for (int k = 0; k < m; k++, q += 5) {
    double *row = fixed + k * ROW, w = k < m - 1 ? u[k + 1] - u[k] : 0;
    row[0] = w;
    if (k == 0) continue;
    row[13] = least[k - 1] * pow(u[k] - base, 4);
    row[8] = q[0] > row[13] ? 1 / q[0] : 0;
    row[9] = q[0], row[10] = q[1], row[11] = q[2], row[12] = q[3], row[6] = q[4];
    row[14] = -4 * q[0], row[15] = q[1];
    for (int s = 0; s < 3; s++) {
      /* N = n0 + n1 t + n2 t^2 with only s0, s1 or s2 equal to 1; then 2 N' Q - N Q' by powers of t / w. */
      double n0 = s == 2 ? -1 : 0, n1 = s == 1 ? -2 : 0, n2 = s == 0 ? -1 : 0;
      double p0 = 2 * n1 * q[0] - n0 * q[1], p1 = (4 * n2 * q[0] + n1 * q[1] - 2 * n0 * q[2]) * w;
      double p2 = 3 * (n2 * q[1] - n0 * q[3]) * w * w, p3 = (2 * n2 * q[2] - n1 * q[3] - 4 * n0 * q[4]) * w * w * w;
      double p4 = (n2 * q[3] - 2 * n1 * q[4]) * w * w * w * w;
      if (k == 1) { /* The root at the ridge is divided out. */
        fixed[14 + s] = p1;
        p0 = p1, p1 = p2, p2 = p3, p3 = p4, p4 = 0;
      }
      row[16 + s] = p0 + p1 / 4;
      row[19 + s] = p0 + p1 / 2 + p2 / 6;
      row[22 + s] = p0 + 0.75 * p1 + p2 / 2 + p3 / 4;
    }
  }
  return fixed;
}

/* Values of some ranks, by buckets of equal width; only the buckets asked for are sorted. */
static void ranks(const double *values, int size, const int *rank, int count, double *found) {
  double least = INFINITY, most = -INFINITY;
  for (int i = 0; i < size; i++) {
    if (values[i] < least) least = values[i];
    if (values[i] > most) most = values[i];
  }
  int buckets = size / 16 + 1 < 4096 ? size / 16 + 1 : 4096;
  double scale = buckets / (most - least), *ordered = malloc(size * sizeof *ordered);
  int *end = calloc(buckets + 2, sizeof *end);
  for (int i = 0; i < size; i++) {
    int b = (int)((values[i] - least) * scale);
    end[(b < buckets ? b : buckets - 1) + 1]++;
  }
  for (int b = 1; b <= buckets; b++) end[b] += end[b - 1];
  for (int i = 0; i < size; i++) {
    int b = (int)((values[i] - least) * scale);
    ordered[end[b < buckets ? b : buckets - 1]++] = values[i];
  }
  for (int r = 0; r < count; r++) {
    int b = 0;
    while (end[b] <= rank[r]) b++;
    int from = b ? end[b - 1] : 0;
    qsort(ordered + from, end[b] - from, sizeof *ordered, ascending);
    found[r] = ordered[rank[r]];
  }
  free(ordered);
  free(end);
}

static double *numbers(FILE *in, int count) {
  double *list = malloc(count * sizeof *list);
  for (int i = 0; i < count; i++)
    if (fscanf(in, "%lf", &list[i]) != 1) exit(2);
  return list;
}

static int *integers(FILE *in, int count) {
  double *list = numbers(in, count);
  int *whole = malloc(count * sizeof *whole);
  for (int i = 0; i < count; i++) whole[i] = (int)list[i];
  free(list);
  return whole;
}

int main(int argc, char **argv) {
  FILE *in = argc == 3 ? fopen(argv[1], "r") : NULL;
  if (!in) return 2;
  int *size = integers(in, 5); /* plots, levels, blocks, replicates, seed */
  Job j = {.n = size[0], .m = size[1], .blocks = size[2]};
  int replicates = size[3];
  uint64_t seed = (uint64_t)size[4];
  j.level = integers(in, j.n);
  j.block_end = integers(in, j.blocks);
  j.pool = numbers(in, j.n);
  j.block_weight = numbers(in, j.blocks);
  j.level_weight = numbers(in, j.m);
  j.fit_sums = numbers(in, j.m);
  j.twice_curve = numbers(in, j.m);
  j.scaled = numbers(in, j.m);
  j.share = numbers(in, j.m);
  double *quadratic = numbers(in, j.m * 5), *least = numbers(in, j.m);
  double *single = numbers(in, 7);
  j.fixed = fixed_parts(j.m, j.scaled, quadratic, least, single[6]);
  j.fit_total = single[0], j.fit_level = single[1], j.per_uu = single[2], j.uv_share = single[3], j.per_rest = single[4];
  j.mean_u = single[5];
  j.per_weight = 1.0 / j.n;
  j.drawn = malloc(j.n * sizeof *j.drawn);
  j.errors = calloc(j.m, sizeof *j.errors);
  double *sums = malloc(j.m * sizeof *sums), *value = 0, median = 0, lower = 0, upper = 0;
  double *a = 0, *b = 0, *c = 0, *rss = 0, best = INFINITY;
  uint8_t *family = 0;

  for (int run = 0; run < 3; run++) {
    free(family), free(a), free(b), free(c), free(rss), free(value);
    clock_t start = clock();
    family = malloc(replicates);
    a = malloc(replicates * sizeof *a), b = malloc(replicates * sizeof *b), c = malloc(replicates * sizeof *c);
    rss = malloc(replicates * sizeof *rss), value = malloc(replicates * sizeof *value);
    for (int i = 0; i < replicates; i++) {
      if (i % STREAM == 0) begin(&j, seed, (uint32_t)(i / STREAM));
      double total = draw(&j, sums), rise = 0;
      Fit found = fit(&j, sums);
      family[i] = 4;
      rss[i] = total > found.gain ? total - found.gain : 0;
      c[i] = found.join;
      if (found.join == INFINITY) {
        b[i] = found.line;
        a[i] = j.level_mean - found.line * j.mean_u;
        continue;
      }
      b[i] = found.curvature;
      for (int l = 0; l < j.m && found.join > j.scaled[l]; l++)
        rise += j.share[l] * (found.join - j.scaled[l]) * (found.join - j.scaled[l]);
      a[i] = j.level_mean + found.curvature * rise;
    }
    int low = 0, missing = 0, inside = 0;
    for (int i = 0; i < replicates; i++) {
      double optimum = c[i] == INFINITY ? (b[i] > 0 ? 1 : 0) : b[i] == 0 ? NAN : c[i];
      if (optimum <= 0) low++;
      else if (isnan(optimum)) missing++;
      else if (optimum < 1) value[inside++] = optimum;
    }
    /* Quantiles by rule 7; ends of the range lie beyond the ranks kept. */
    double share[3] = {0.025, 0.5, 0.975}, read[6], *to[3] = {&lower, &median, &upper};
    int below[3] = {low + missing, low + missing / 2, low}, rank[6];
    for (int q = 0; q < 3; q++) {
      double h = (replicates - 1) * share[q];
      rank[2 * q] = (int)floor(h) - below[q];
      rank[2 * q + 1] = (int)ceil(h) - below[q];
      if (rank[2 * q] < 0 || rank[2 * q + 1] >= inside) return 3; /* an open limit: not among the trials of this benchmark */
    }
    ranks(value, inside, rank, 6, read);
    for (int q = 0; q < 3; q++) {
      double h = (replicates - 1) * share[q];
      *to[q] = read[2 * q] + (h - floor(h)) * (read[2 * q + 1] - read[2 * q]);
    }
    double time = (double)(clock() - start) / CLOCKS_PER_SEC * 1e6 / replicates;
    if (time < best) best = time;
  }
  FILE *out = fopen(argv[2], "wb");
  if (!out) return 2;
  for (int i = 0; i < replicates; i++) {
    double line[5] = {family[i], a[i], b[i], c[i], rss[i]};
    fwrite(line, sizeof line, 1, out);
  }
  fclose(out);
  printf("{\"us\": %.6f, \"lower\": %.17g, \"median\": %.17g, \"upper\": %.17g}\n", best, lower, median, upper);
  return 0;
}
