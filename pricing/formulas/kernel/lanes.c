/* Fills the tiles of a block of lanes, goes through the formulas (`block`, printed after this), and stores results.

   A lane is a variant, or a world of one variant; `outer` counts what is gone through one after the other: the variants
   where lanes are worlds, else nothing. A tile holds W lanes side by side for each place of a row's own axes. */

#include <math.h>
#include <stddef.h>
#include <stdint.h>

#if defined(__clang__)
#define SIDE_BY_SIDE _Pragma("clang loop vectorize(assume_safety)")
#else
#define SIDE_BY_SIDE _Pragma("GCC ivdep")
#endif
#define LANES SIDE_BY_SIDE for (int w = 0; w < W; w++)

/* The words of formulas, as numpy has them: what is no number stays none. No word branches. */
static inline double where_(int holds, double then, double otherwise) { return holds ? then : otherwise; }
static inline double minimum_(double a, double b) { return where_((a <= b) | (a != a), a, b); }
static inline double maximum_(double a, double b) { return where_((a >= b) | (a != a), a, b); }
static inline double held_(double amount, double low, double high) { return minimum_(high, maximum_(low, amount)); }
static inline double square_(double amount) { return amount * amount; }
static inline double cube_(double amount) { return amount * amount * amount; }
static inline double ratio_(double part, double whole) { return where_(fabs(whole) > NO_WHOLE, part / whole, NAN); }

enum { NUMBER, SWITCH, PLACE };           /* what stands in a column: double, one byte, int64 */
enum { STILL, BY_OUTER, BY_LANE };        /* how often a tile is filled, and a nest gone through: once, or for each */

/* One column given from outside, in steps of its elements; `key` leads from a row to one of `rows` rows, below 0 from
   the end. */
struct given {
  const void *from;
  const int64_t *key;
  int64_t kind, fills, at, places;
  int64_t by_outer, by_lane, key_by_outer, key_by_lane, rows, by_row;
};
struct result {
  double *to;
  int64_t at, places, by_outer, by_lane;
};

/* All nests that go through as often as `now` says, or more often; of the others the tiles hold what they held. */
static void block(const int64_t *n, const int64_t *at, const int64_t *goes, double *s, int64_t now, int64_t parts);

static inline double found(const struct given *g, int64_t i) {
  if (g->kind == NUMBER) return ((const double *)g->from)[i];
  if (g->kind == SWITCH) return ((const uint8_t *)g->from)[i] != 0;
  return (double)((const int64_t *)g->from)[i];
}

static inline int64_t row(const struct given *g, int64_t key) { return (key < 0 ? key + g->rows : key) * g->by_row; }

static void fill(const struct given *g, double *s, int64_t outer, int64_t lane, int64_t lanes) {
  double *tile = s + g->at;
  const int64_t start = outer * g->by_outer + lane * g->by_lane;
  const int64_t *key = g->key ? g->key + outer * g->key_by_outer + lane * g->key_by_lane : 0;
  if (g->fills != BY_LANE) { /* all lanes have the same */
    for (int64_t p = 0; p < g->places; p++) {
      const double same = found(g, start + (key ? row(g, key[p]) : p));
      LANES tile[p * W + w] = same;
    }
    return;
  }
  if (key && !g->key_by_lane && g->kind == NUMBER) { /* worlds of one row */
    for (int64_t p = 0; p < g->places; p++) {
      const double *from = (const double *)g->from + start + row(g, key[p]);
      for (int64_t w = 0; w < W; w++) tile[p * W + w] = from[(w < lanes ? w : lanes - 1) * g->by_lane];
    }
    return;
  }
  if (!key && lanes == W && g->by_lane == 1 && g->places == 1 && g->kind != PLACE) { /* as it lies */
    if (g->kind == NUMBER) {
      const double *from = (const double *)g->from + start;
      LANES tile[w] = from[w];
    } else {
      const uint8_t *from = (const uint8_t *)g->from + start;
      LANES tile[w] = from[w] != 0;
    }
    return;
  }
  for (int64_t w = 0; w < W; w++) {
    const int64_t on = w < lanes ? w : lanes - 1; /* lanes left over hold the last one again */
    const int64_t first = start + on * g->by_lane;
    if (key) {
      const int64_t *its = key + on * g->key_by_lane;
      if (g->kind == NUMBER) {
        const double *from = (const double *)g->from + first;
        for (int64_t p = 0; p < g->places; p++) tile[p * W + w] = from[row(g, its[p])];
      } else {
        for (int64_t p = 0; p < g->places; p++) tile[p * W + w] = found(g, first + row(g, its[p]));
      }
    } else if (g->kind == NUMBER) {
      const double *from = (const double *)g->from + first;
      for (int64_t p = 0; p < g->places; p++) tile[p * W + w] = from[p];
    } else if (g->kind == SWITCH) {
      const uint8_t *from = (const uint8_t *)g->from + first;
      for (int64_t p = 0; p < g->places; p++) tile[p * W + w] = from[p] != 0;
    } else {
      for (int64_t p = 0; p < g->places; p++) tile[p * W + w] = found(g, first + p);
    }
  }
}

static void store(const struct result *r, const double *s, int64_t outer, int64_t lane, int64_t lanes) {
  const double *tile = s + r->at;
  double *to = r->to + outer * r->by_outer + lane * r->by_lane;
  if (r->places == 1 && r->by_lane == 1) {
    for (int64_t w = 0; w < lanes; w++) to[w] = tile[w];
    return;
  }
  for (int64_t w = 0; w < lanes; w++, to += r->by_lane)
    for (int64_t p = 0; p < r->places; p++) to[p] = tile[p * W + w];
}

/* Lanes `from` up to `to` of each outer; `parts` says whether what other variants have is there to be looked up. */
void run(const struct given *given, int64_t givens, const struct result *results, int64_t stored, const int64_t *n,
         const int64_t *at, const int64_t *goes, double *s, int64_t outers, int64_t from, int64_t to, int64_t parts) {
  for (int64_t outer = 0; outer < outers; outer++)
    for (int64_t lane = from; lane < to; lane += W) {
      const int64_t lanes = to - lane < W ? to - lane : W;
      const int64_t now = lane > from ? BY_LANE : outer ? BY_OUTER : STILL;
      for (int64_t i = 0; i < givens; i++)
        if (given[i].fills >= now) fill(given + i, s, outer, lane, lanes);
      block(n, at, goes, s, now, parts);
      for (int64_t i = 0; i < stored; i++) store(results + i, s, outer, lane, lanes);
    }
}
