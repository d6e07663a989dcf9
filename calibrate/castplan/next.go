package castplan

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"
	"gonum.org/v1/gonum/mat"

	"masstone/calibrate"
)

// Request is what a plan is made for.
type Request struct {
	Reading    Reading    // how the chips will be read
	Candidates []Chip     // the chips to choose from
	Interest   []Interest // the mixtures to know well, all counted alike
	Watch      []Interest // further ones that are only told of
	Count      int        // chips to choose
}

// Plan is what to cast next.
type Plan struct {
	Before float64   // mean expected CIEDE2000 of the mixtures of interest now
	Now    []float64 // expected of each watched mixture
	Steps  []Step    // the chips in the order to cast them
}

// Step is one chip of a plan.
type Step struct {
	Chip
	After float64   // mean expected CIEDE2000 once this chip and those before it are read
	Then  []float64 // expected of each watched mixture then
	// Helps is the mixture of interest that gains most by this chip, with its
	// expected CIEDE2000 before and after it.
	Helps       int
	HelpsBefore float64
	HelpsAfter  float64
}

// Rated is a candidate with what it alone would leave.
type Rated struct {
	Chip
	After float64 // mean expected CIEDE2000 of the mixtures of interest
}

// Next chooses Count chips, each for what it adds to the ones before it. The
// figures are what the calibration will claim after a fit that includes the
// chips. Errors are a mixture or chip the calibration does not know, a bench
// that cannot be, and a cancelled context.
func Next(ctx context.Context, c *calibrate.Calibration, r Request) (Plan, error) {
	s, err := newKnowledge(ctx, c, r)
	if err != nil {
		return Plan{}, err
	}
	plan := Plan{Before: s.mean(nil), Now: s.each()[len(r.Interest):]}
	var chosen []int
	for range min(r.Count, len(r.Candidates)) {
		after, err := s.rate(ctx, chosen)
		if err != nil {
			return plan, err
		}
		best := -1
		for i, v := range after {
			if !slices.Contains(chosen, i) && (best < 0 || v < after[best]) {
				best = i
			}
		}
		was := s.each()[:s.counted()]
		s.update(&s.observations[best])
		chosen = append(chosen, best)
		all := s.each()
		is := all[:s.counted()]
		step := Step{Chip: r.Candidates[best], Then: all[s.counted():]}
		for i := range is {
			step.After += is[i] / float64(len(is))
			if was[i]-is[i] > was[step.Helps]-is[step.Helps] {
				step.Helps = i
			}
		}
		step.HelpsBefore, step.HelpsAfter = was[step.Helps], is[step.Helps]
		plan.Steps = append(plan.Steps, step)
	}
	return plan, nil
}

// Rate returns all candidates, the one that teaches most first. Count is not
// used.
func Rate(ctx context.Context, c *calibrate.Calibration, r Request) ([]Rated, error) {
	s, err := newKnowledge(ctx, c, r)
	if err != nil {
		return nil, err
	}
	after, err := s.rate(ctx, nil)
	if err != nil {
		return nil, err
	}
	out := make([]Rated, len(after))
	for i, v := range after {
		out[i] = Rated{r.Candidates[i], v}
	}
	slices.SortStableFunc(out, func(a, b Rated) int {
		switch {
		case a.After < b.After:
			return -1
		case a.After > b.After:
			return 1
		}
		return 0
	})
	return out, nil
}

// Claim returns the mean expected CIEDE2000 of mixtures by the calibration as
// it stands, on the terms of a plan.
func Claim(c *calibrate.Calibration, interest []Interest) (float64, error) {
	s, err := newKnowledge(context.Background(), c, Request{Interest: interest})
	if err != nil {
		return 0, err
	}
	return s.mean(nil), nil
}

// knowledge is a calibration with the mixtures of interest and the candidates,
// ready to be updated.
type knowledge struct {
	cov          *mat.Dense // C, symmetric
	widen        float64
	pull         *mat.Dense      // C G' B' of all mixtures: unknowns x 3 per mixture
	castings     [][3][3]float64 // what no chip takes away: each casting's own, B .. B'
	errors       [][3][3]float64 // B G C G' B' per mixture, without the model error
	watched      int             // the last of them, that are only told of
	floor        float64         // what the model error adds to the diagonal of it
	observations []observation
}

// An observation is what a candidate would teach: a few numbers y = J z + e with e of
// unit variance, J non-zero in a few runs of columns only.
type observation struct {
	blocks []calibrate.Block
	j      *mat.Dense // rows x sum of block lengths
}

func newKnowledge(ctx context.Context, c *calibrate.Calibration, r Request) (*knowledge, error) {
	if len(r.Interest) == 0 {
		return nil, fmt.Errorf("nothing to plan for; give mixtures of interest, such as those of the gamut")
	}
	if len(r.Candidates) > 0 && !r.Reading.Spectrum && len(r.Reading.Lights) == 0 {
		return nil, fmt.Errorf("no way to read a chip; give a light or a spectrum")
	}
	in := settings{c: c, ready: map[calibrate.Setting]*calibrate.Evaluator{}}
	first, err := in.evaluator(r.Interest[0].Setting)
	if err != nil {
		return nil, fmt.Errorf("mixture of interest 1: %w", err)
	}
	s := &knowledge{cov: mat.DenseCopyOf(first.Unknowns()), widen: c.ModelError.Widen, floor: c.ModelError.Floor}
	s.watched = len(r.Watch)
	if err := s.linearisePredictions(in, slices.Concat(r.Interest, r.Watch)); err != nil {
		return nil, err
	}
	if err := s.linearise(ctx, in, r); err != nil {
		return nil, err
	}
	return s, nil
}

// counted is how many of the mixtures are of interest.
func (s *knowledge) counted() int { return len(s.errors) - s.watched }

// each returns the expected CIEDE2000 of every mixture, of interest or watched.
func (s *knowledge) each() []float64 {
	out := make([]float64, len(s.errors))
	for i := range out {
		out[i] = s.beside(i, s.errors[i])
	}
	return out
}

// mean returns the mean over the mixtures of interest once the errors are less
// by the rows of told, nil for none: rows x 3 per mixture.
func (s *knowledge) mean(reduction *mat.Dense) float64 {
	sum := 0.0
	for i, q := range s.errors[:s.counted()] {
		if reduction != nil {
			rows, _ := reduction.Dims()
			for k := range rows {
				t := reduction.RawRowView(k)[3*i : 3*i+3]
				for a := range 3 {
					for b := range 3 {
						q[a][b] -= t[a] * t[b]
					}
				}
			}
		}
		sum += s.beside(i, q)
	}
	return sum / float64(s.counted())
}

// expected is the mean length of a normal error of covariance (2).
func (s *knowledge) expected(q [3][3]float64) float64 { return s.length(q, [3][3]float64{}) }

// beside is that of mixture i, what its casting has of its own counted.
func (s *knowledge) beside(i int, q [3][3]float64) float64 { return s.length(q, s.castings[i]) }

func (s *knowledge) length(q, casting [3][3]float64) float64 {
	t, u := 0.0, 0.0
	for a := range 3 {
		for b := range 3 {
			v := s.widen * s.widen * (q[a][b] + casting[a][b])
			if a == b {
				v = math.Max(v, 0) + s.floor*s.floor
				t += v
			}
			u += v * v
		}
	}
	if !(t > 0) {
		return 0
	}
	u /= t * t
	return math.Sqrt(t) * (1 - 0.254*u + 0.052*u*u) // (3)
}

// rate returns for every candidate the mean expected CIEDE2000 with it, save
// for those already chosen.
func (s *knowledge) rate(ctx context.Context, chosen []int) ([]float64, error) {
	out := make([]float64, len(s.observations))
	err := inParallel(ctx, len(out), func(i int) error {
		if slices.Contains(chosen, i) {
			return nil
		}
		out[i] = s.mean(s.reduction(&s.observations[i]))
		return nil
	})
	return out, err
}

// reduction returns L^-1 J C G' B' with L L' = J C J' + 1: its columns are what the
// observation takes off the errors of the mixtures.
func (s *knowledge) reduction(l *observation) *mat.Dense {
	return timesRows(l.whitened(s.cov), s.pull, l.blocks)
}

// update carries the covariance on by (1).
func (s *knowledge) update(l *observation) {
	w := l.whitened(s.cov)
	reduction := timesRows(w, s.pull, l.blocks) // rows x 3 per mixture
	gain := timesRows(w, s.cov, l.blocks)       // rows x unknowns
	var less, drop mat.Dense
	less.Mul(gain.T(), reduction)
	s.pull.Sub(s.pull, &less)
	drop.Mul(gain.T(), gain)
	s.cov.Sub(s.cov, &drop)
	rows, _ := reduction.Dims()
	for i := range s.errors {
		for k := range rows {
			t := reduction.RawRowView(k)[3*i : 3*i+3]
			for a := range 3 {
				for b := range 3 {
					s.errors[i][a][b] -= t[a] * t[b]
				}
			}
		}
	}
}

// whitened returns L^-1 J with L L' = J C J' + 1.
func (l *observation) whitened(cov *mat.Dense) *mat.Dense {
	rows, _ := l.j.Dims()
	var jc, s mat.Dense
	jc.Mul(l.j, blocksOf(cov, l.blocks))
	s.Mul(&jc, l.j.T())
	sym := mat.NewSymDense(rows, nil)
	for a := range rows {
		for b := a; b < rows; b++ {
			sym.SetSym(a, b, (s.At(a, b)+s.At(b, a))/2)
		}
		sym.SetSym(a, a, sym.At(a, a)+1)
	}
	return underRoot(sym, l.j)
}

// inParallel calls f for 0..n-1 on all processors.
func inParallel(ctx context.Context, n int, f func(i int) error) error {
	var all errgroup.Group
	workers := runtime.GOMAXPROCS(0)
	for w := range workers {
		all.Go(func() error {
			for i := w; i < n; i += workers {
				if err := ctx.Err(); err != nil {
					return err
				}
				if err := f(i); err != nil {
					return err
				}
			}
			return nil
		})
	}
	return all.Wait()
}
