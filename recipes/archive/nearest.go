package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"

	"masstone/color"
	"masstone/recipes/archive/engine"
)

// A Near is an archived recipe and how far its colour is from the one searched.
type Near struct {
	Recipe   Recipe
	Lab      Lab     // as predicted, or as approved
	Approved bool    // Lab is the colour it was approved at
	DE00     float64 // CIEDE2000 from the searched colour
}

// A NearestQuery asks for the recipes nearest to a colour, under its light.
type NearestQuery struct {
	Lab      Lab
	Limit    int    // 20 if 0
	Resin    string // any if empty
	Approved bool   // approved recipes only
}

// Nearest returns the recipes with the smallest CIEDE2000 from a colour, the
// nearest first and of equals the newer first. The answer is exact.
//
// The colours stand in the file as a column: packed blocks of a few thousand,
// 40 bytes each, and a tail of rows not yet packed. Nothing is built when a
// bench is opened; a search reads the column of its light and goes through it
// once. While it does, it keeps the best found so far, and skips the formula for
// colours outside the box that is proved to hold everything nearer than the
// worst of them (see reach). A tree would touch less when many recipes are near,
// but has to be read row by row from the file, or built at every start; and when
// none is near, it touches everything all the same. The column's cost hardly
// depends on the colour searched or on how the recipes crowd.
func (b *Bench) Nearest(ctx context.Context, q NearestQuery) ([]Near, error) {
	if err := q.Lab.check(); err != nil {
		return nil, fmt.Errorf("nearest: %w", err)
	}
	if q.Limit <= 0 {
		q.Limit = 20
	}
	return read(ctx, b, func(tx *snapshot) ([]Near, error) {
		hits, err := nearest(ctx, tx, q)
		if err != nil {
			return nil, err
		}
		found := make([]Near, len(hits))
		for i, h := range hits {
			r, err := one[Recipe](ctx, tx, kindRecipe, "WHERE id = ?", h.recipe)
			if err != nil {
				return nil, err
			}
			at := q.Lab
			at.L, at.A, at.B = h.lab[0], h.lab[1], h.lab[2]
			if err := h.believed(ctx, tx, r, at); err != nil {
				return nil, err
			}
			found[i] = Near{r, at, h.approved, h.de}
		}
		return found, nil
	})
}

// believed refuses a colour of the column that its recipe, or none of the
// recipe's approvals, has.
func (h *hit) believed(ctx context.Context, tx *snapshot, r Recipe, at Lab) error {
	colors := r.Predicted
	if h.approved {
		approvals, err := records[Approval](ctx, tx, kindApproval, "WHERE recipe = ?", r.Ref)
		if err != nil {
			return err
		}
		colors = nil
		for _, a := range approvals {
			colors = append(colors, a.Colors...)
		}
	}
	if !slices.Contains(colors, at) {
		return fmt.Errorf("recipe %s: %w: the colour it is found by is not its own; %s", r.ID(), ErrDamaged, engine.KeepFile)
	}
	return nil
}

func nearest(ctx context.Context, tx *snapshot, q NearestQuery) ([]hit, error) {
	s := search{target: [3]float64{q.Lab.L, q.Lab.A, q.Lab.B}, limit: q.Limit, approved: q.Approved}
	s.within(math.Inf(1))
	if q.Resin != "" {
		if _, err := find[Resin](ctx, tx, kindResin, "resin", "code", q.Resin); err != nil {
			return nil, err
		}
		if err := tx.QueryRowContext(ctx, `SELECT min(id) FROM resin_card WHERE code = ?`, q.Resin).Scan(&s.resin); err != nil {
			return nil, err
		}
	}
	var light int64
	err := tx.QueryRowContext(ctx, `SELECT id FROM light WHERE illuminant = ? AND observer = ?`, q.Lab.Illuminant, q.Lab.Observer).Scan(&light)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	if err := eachColor(ctx, tx, light, s.look); err != nil {
		return nil, err
	}
	return s.best, nil
}

// A hit is a colour found.
type hit struct {
	entry
	de float64
}

// A search is the state of going through the colours once.
type search struct {
	target   [3]float64
	limit    int
	approved bool
	resin    uint32  // 0 is any
	dl, dab  float64 // nothing outside this box can be among the best
	best     []hit   // nearest first, each recipe once, at most limit
}

func (s *search) within(de float64) { s.dl, s.dab = reach(s.target, de) }

// look considers one colour.
func (s *search) look(e *entry) {
	if !(math.Abs(e.lab[0]-s.target[0]) <= s.dl && math.Abs(e.lab[1]-s.target[1]) <= s.dab && math.Abs(e.lab[2]-s.target[2]) <= s.dab) {
		return
	}
	if (s.resin != 0 && e.resin != s.resin) || (s.approved && !e.approved) {
		return
	}
	h := hit{*e, color.Delta00(s.target, e.lab)}
	if len(s.best) == s.limit && !h.before(&s.best[s.limit-1]) {
		return
	}
	for i := range s.best {
		if s.best[i].recipe == h.recipe {
			if !h.before(&s.best[i]) {
				return
			}
			s.best = slices.Delete(s.best, i, i+1)
			break
		}
	}
	at := sort.Search(len(s.best), func(i int) bool { return h.before(&s.best[i]) })
	s.best = slices.Insert(s.best, at, h)
	if len(s.best) > s.limit {
		s.best = s.best[:s.limit]
	}
	if len(s.best) == s.limit {
		s.within(s.best[s.limit-1].de)
	}
}

// before orders hits: the nearer, then the newer recipe, then as approved.
func (h *hit) before(o *hit) bool {
	switch {
	case h.de != o.de:
		return h.de < o.de
	case h.recipe != o.recipe:
		return h.recipe > o.recipe
	}
	return h.approved && !o.approved
}

// reach returns how far in L*, and how far in a* and in b*, a colour within
// CIEDE2000 r of t can be from it. Symbols as in Sharma, Wu, Dalal 2005.
//
// Lightness. |ΔL| / SL ≤ r, and SL = 1 + 0.015 q²/√(20+q²) ≤ 1 + 0.015 |q| with
// q = (L1+L2)/2 - 50, so |q| ≤ |L1-50| + |ΔL|/2. Solving for |ΔL|:
//
//	|ΔL| ≤ r A / (1 - r B),  A = 1 + 0.015 |L1-50|,  B = 0.0075            (2)
//
// and no bound where r B ≥ 1.
//
// Chroma and hue. With x = ΔC'/SC and y = ΔH'/SH, r² ≥ x² + y² + RT x y
// ≥ (1 - |RT|/2)(x² + y²). |RT| = RC sin 2Δθ with 2Δθ ≤ 60°, so
// |RT|/2 ≤ (√3/2) √(C̄'⁷/(C̄'⁷+25⁷)). SH ≤ SC = 1 + 0.045 C̄', since T < 2. And
// ΔC'² + ΔH'² = Δa'² + Δb² =: D², where Δa' = (1+G) Δa and G ≥ 0, so that
// |Δa| ≤ D and |Δb| ≤ D. The other colour's C' exceeds this one's by at most D,
// so C̄' ≤ U + D/2, with U the largest C' of t that any G allows. Hence
//
//	κ D / (1 + 0.045 U + 0.0225 D) ≤ r,  κ² = 1 - (√3/2) √(C̄'⁷/(C̄'⁷+25⁷))    (3)
//
// whose left side grows with D. Solve with κ for C̄' → ∞ first; that D limits
// C̄', which gives a larger κ and a smaller D.
func reach(t [3]float64, r float64) (dl, dab float64) {
	solve := func(r, a, b float64) float64 {
		if r*b >= 1 {
			return math.Inf(1)
		}
		return r * a / (1 - r*b)
	}
	share := func(c float64) float64 {
		c7 := math.Pow(c/25, 7)
		if math.IsInf(c7, 1) {
			return 1
		}
		return math.Sqrt(c7 / (c7 + 1))
	}
	kappa := func(c float64) float64 { return math.Sqrt(1 - math.Sqrt(3)/2*share(c)) }

	dl = solve(r, 1+0.015*math.Abs(t[0]-50), 0.0075) // (2)
	g := 0.5 * (1 - share(math.Hypot(t[1], t[2])/2)) // the mean of the chromas is at least half of this one
	u := math.Hypot((1+g)*t[1], t[2])
	for c, n := math.Inf(1), 0; n < 3; n++ {
		dab = solve(r/kappa(c), 1+0.045*u, 0.0225) // (3)
		c = u + dab/2
	}
	// Room for rounding, far below any difference that matters.
	return dl*(1+1e-9) + 1e-9, dab*(1+1e-9) + 1e-9
}
