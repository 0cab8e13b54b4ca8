/* Fills the tiles of a block of lanes, goes through the formulas (`block`, printed after this), and stores results.

   A lane is a variant, or a world of one variant; `outer` counts what is gone through one after the other: the variants
   where lanes are worlds, else groups of variants, or nothing. A tile holds W lanes side by side for each place of a row's own axes. */

#include <math.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#if defined(__clang__)
#define SIDE_BY_SIDE _Pragma("clang loop vectorize(assume_safety)")
#else
#pragma GCC optimize("no-thread-jumps") /* past what a condition leaves out: lanes would go one by one */
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
/* How often a tile is filled, and a nest gone through: once, or for each. What lies as a tile does is read in place. */
enum { STILL, BY_OUTER, BY_LANE, AS_IT_LIES };

/* One column given from outside, in steps of its elements; `key` leads from a row to one of `rows` rows, below 0 from
   the end. `tile` is its place in `at`. */
struct given {
  const void *from;
  const int64_t *key;
  int64_t kind, fills, tile, places;
  int64_t by_outer, by_lane, key_by_outer, key_by_lane, rows, by_row;
};
struct result {
  double *to;
  int64_t goes, tile, places, by_outer, by_lane;
};

/* All nests that go through as often as `now` says, or more often; of the others the tiles hold what they held. */
static void block(const int64_t *n, const int64_t *at, const int64_t *goes, double *s, int64_t now, int64_t parts);

/* Four rows of four numbers, each turned into a lane, or four lanes into rows: `from` and `to` are so far apart. */
typedef double four __attribute__((vector_size(32), aligned(8), may_alias));
#if defined(__clang__) || __GNUC__ >= 12
#define MIXED(a, b, ...) __builtin_shufflevector(a, b, __VA_ARGS__)
#else
typedef long long order __attribute__((vector_size(32)));
#define MIXED(a, b, ...) __builtin_shuffle(a, b, (order){__VA_ARGS__})
#endif
static inline void turned(const double *from, int64_t by_from, double *to, int64_t by_to) {
  const four a = *(const four *)from, b = *(const four *)(from + by_from);
  const four c = *(const four *)(from + 2 * by_from), d = *(const four *)(from + 3 * by_from);
  const four ab = MIXED(a, b, 0, 4, 2, 6), ba = MIXED(a, b, 1, 5, 3, 7);
  const four cd = MIXED(c, d, 0, 4, 2, 6), dc = MIXED(c, d, 1, 5, 3, 7);
  *(four *)to = MIXED(ab, cd, 0, 1, 4, 5), *(four *)(to + by_to) = MIXED(ba, dc, 0, 1, 4, 5);
  *(four *)(to + 2 * by_to) = MIXED(ab, cd, 2, 3, 6, 7), *(four *)(to + 3 * by_to) = MIXED(ba, dc, 2, 3, 6, 7);
}

static inline double found(const struct given *g, int64_t i) {
  if (g->kind == NUMBER) return ((const double *)g->from)[i];
  if (g->kind == SWITCH) return ((const uint8_t *)g->from)[i] != 0;
  return (double)((const int64_t *)g->from)[i];
}

static inline int64_t row(const struct given *g, int64_t key) { return (key < 0 ? key + g->rows : key) * g->by_row; }

static void fill(const struct given *g, double *tile, int64_t outer, int64_t lane, int64_t lanes) {
  const int64_t start = outer * g->by_outer + lane * g->by_lane;
  const int64_t *key = g->key ? g->key + outer * g->key_by_outer + lane * g->key_by_lane : 0;
  if (g->fills < BY_LANE) { /* all lanes have the same */
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
  if (!key && lanes == W && g->kind == SWITCH) {
    const uint8_t *from = (const uint8_t *)g->from + start;
    if (g->places == 1 && g->by_lane == 1) { /* side by side already */
      LANES tile[w] = from[w] != 0;
      return;
    }
    for (int64_t w = 0; w < W; w += 8, from += 8 * g->by_lane)
      for (int64_t p = 0; p < g->places; p++)
        for (int k = 0; k < 8; k++) tile[p * W + w + k] = from[k * g->by_lane + p] != 0;
    return;
  }
  if (key && lanes == W && g->kind == NUMBER && !g->by_lane) {
    const double *from = (const double *)g->from + start;
    for (int64_t w = 0; w < W; w += 8, key += 8 * g->key_by_lane)
      for (int64_t p = 0; p < g->places; p++)
        for (int k = 0; k < 8; k++) tile[p * W + w + k] = from[row(g, key[k * g->key_by_lane + p])];
    return;
  }
  if (!key && lanes == W && g->kind == NUMBER) {
    const double *from = (const double *)g->from + start;
    for (int64_t w = 0; w < W; w += 4, from += 4 * g->by_lane) {
      int64_t p = 0;
      for (; p + 4 <= g->places; p += 4) turned(from + p, g->by_lane, tile + p * W + w, W);
      for (; p < g->places; p++)
        for (int k = 0; k < 4; k++) tile[p * W + w + k] = from[k * g->by_lane + p];
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

static void store(const struct result *r, const double *tile, int64_t outer, int64_t lane, int64_t lanes) {
  double *to = r->to + outer * r->by_outer + lane * r->by_lane;
  if (r->places == 1 && r->by_lane == 1) {
    for (int64_t w = 0; w < lanes; w++) to[w] = tile[w];
    return;
  }
  int64_t w = 0;
  for (; w + 4 <= lanes; w += 4, to += 4 * r->by_lane) {
    int64_t p = 0;
    for (; p + 4 <= r->places; p += 4) turned(tile + p * W + w, W, to + p, r->by_lane);
    for (; p < r->places; p++)
      for (int k = 0; k < 4; k++) to[k * r->by_lane + p] = tile[p * W + w + k];
  }
  for (; w < lanes; w++, to += r->by_lane)
    for (int64_t p = 0; p < r->places; p++) to[p] = tile[p * W + w];
}

/* Whether so many rows, one behind the other, are the same byte for byte: each is that before it. */
int alike(const char *rows, int64_t many, int64_t bytes) {
  return many < 2 || !memcmp(rows, rows + bytes, (many - 1) * bytes);
}

/* How far a place in memory is from the tiles. */
static inline int64_t away(const double *place, const double *s) {
  return ((intptr_t)place - (intptr_t)s) / (intptr_t)sizeof(double);
}

/* Lanes from[outer] up to to[outer] of each outer; `parts` says whether what other variants have is there to be looked up.
   `tiles` says where each tile is from `s`; `at` has room for as many: there a whole block of what lies as a tile does
   is read, and a result that is to lie so is written, without a copy. */
void run(const struct given *given, int64_t givens, const struct result *results, int64_t stored, const int64_t *n,
         const int64_t *tiles, int64_t *at, const int64_t *goes, double *s, int64_t outers, const int64_t *from,
         const int64_t *to, int64_t parts) {
  int begun = 0;
  for (int64_t outer = 0; outer < outers; outer++)
    for (int64_t lane = from[outer]; lane < to[outer]; lane += W, begun = 1) {
      const int64_t lanes = to[outer] - lane < W ? to[outer] - lane : W;
      const int64_t now = lane > from[outer] ? BY_LANE : begun ? BY_OUTER : STILL;
      for (int64_t i = 0; i < givens; i++) {
        const struct given *g = given + i;
        if (g->fills < now) continue;
        at[g->tile] = tiles[g->tile];
        if (g->fills == AS_IT_LIES && lanes == W)
          at[g->tile] = away((const double *)g->from + outer * g->by_outer + lane, s);
        else
          fill(g, s + tiles[g->tile], outer, lane, lanes);
      }
      for (int64_t i = 0; i < stored; i++) {
        const struct result *r = results + i;
        const int lies = r->goes == AS_IT_LIES && lanes == W;
        at[r->tile] = lies ? away(r->to + outer * r->by_outer + lane, s) : tiles[r->tile];
      }
      block(n, at, goes, s, now, parts);
      for (int64_t i = 0; i < stored; i++)
        if (at[results[i].tile] == tiles[results[i].tile])
          store(results + i, s + tiles[results[i].tile], outer, lane, lanes);
    }
}
