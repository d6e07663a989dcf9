package recipes

import (
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// realShop is a shop whose pigments have the curves of testdata/real_pigments,
// as a fit on all its spectra finds them.
func realShop(t testing.TB) *virtualshop.Shop {
	t.Helper()
	chips, pigments := realChips(t)
	c, err := calibrate.Fit(context.Background(), pigments, chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
	require.NoError(t, err)
	s := &virtualshop.Shop{
		Name: "real pigments", Codes: pigments, Light: virtualshop.TwoFlux{K1: c.Layer.K1, K2: c.Layer.K2}, Level: 1,
		Setting: calibrate.Setting{Thickness: 3, Backing: color.Constant(0.90), Specular: color.SpecularIncluded}, Dark: color.Constant(0.03),
		ChipGrams: 50, ScaleGrams: 0.01, Noise: calibrate.Noise{LabSD: 0.08, SpectrumSD: 0.001},
		Resin: virtualshop.Curve{K: c.Curves[0].K, S: c.Curves[0].S},
	}
	for _, curve := range c.Curves[1:] {
		s.Pigments = append(s.Pigments, virtualshop.Curve{K: curve.K, S: curve.S})
	}
	return s
}

// realChips reads the spectra of testdata/real_pigments.
func realChips(t testing.TB) (chips []calibrate.Chip, pigments []string) {
	t.Helper()
	f, err := os.Open("../testdata/real_pigments/chips.csv")
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	for _, row := range rows[1:] {
		c := calibrate.Chip{Name: row[0], Loadings: map[string]calibrate.PHR{}, Thickness: 3, BackingName: row[1], Backing: color.Constant(0.90),
			Measurement: color.Measurement{Geometry: color.Sphere, Specular: color.SpecularIncluded}, ChipGrams: 50, ScaleGrams: 0.01, Spectrum: new(color.Reflectance)}
		if row[1] == "black" {
			c.Backing = color.Constant(0.03)
		}
		pigments = nil
		for i, head := range rows[0][3:] {
			v, err := strconv.ParseFloat(row[i+3], 64)
			require.NoError(t, err)
			switch {
			case strings.HasPrefix(head, "R") && len(head) == 4:
				nm, err := strconv.Atoi(head[1:])
				require.NoError(t, err)
				c.Spectrum[(nm-color.FirstNM)/color.StepNM] = v
			case !strings.Contains(head, "_"):
				pigments = append(pigments, head)
				c.Loadings[head] = calibrate.PHR(v)
			}
		}
		chips = append(chips, c)
	}
	return chips, pigments
}

// A slipBench is a shop with a calibration on 37 chips of one kind of evidence,
// and the lots of whose pigments slip.
type slipBench struct {
	shop     *virtualshop.Shop
	cal      *calibrate.Calibration
	evidence virtualshop.Evidence
	seed     uint64
}

func newSlipBench(t testing.TB, s *virtualshop.Shop, e virtualshop.Evidence, seed uint64, o calibrate.Options) slipBench {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 's'))
	cal, err := calibrate.Fit(context.Background(), s.Codes, e.Of(s.CastAll(rng, s.Study(virtualshop.TwoTint))), o)
	require.NoError(t, err)
	return slipBench{s, cal, e, seed}
}

// A slipped target is one whose recipe holds a pigment that is 15 % stronger or
// weaker than the calibrated lot.
type slipped struct {
	slipBench
	rng    *rand.Rand
	truth  color.Lab
	target Target
	recipe Recipe
	lot    *virtualshop.Shop
}

// targets draws n slipped targets and finds their recipes for a batch.
func (b slipBench) targets(t testing.TB, n int, limits Limits) []slipped {
	t.Helper()
	var out []slipped
	for i, mix := range b.shop.Mixtures(rand.New(rand.NewPCG(b.seed, 't')), n) {
		s := slipped{slipBench: b, rng: rand.New(rand.NewPCG(b.seed, uint64(i)+1000))}
		s.truth = b.shop.Color(mix, b.shop.Setting, color.D65Ten())
		part := s.read(b.shop.Reflectance(mix, b.shop.Setting))
		s.target = Target{Name: fmt.Sprint("T", i), Labs: part.Labs, Spectrum: part.Spectrum, Setting: b.shop.Setting}
		m, err := newMatch(b.cal, s.target, limits)
		require.NoError(t, err)
		list, _, err := m.search(context.Background())
		require.NoError(t, err)
		s.recipe, err = m.recipe(list[0])
		require.NoError(t, err)
		codes := s.codes()
		s.lot = b.shop.WithLot(codes[s.rng.IntN(len(codes))], 1+0.15*float64(2*s.rng.IntN(2)-1))
		out = append(out, s)
	}
	return out
}

// codes lists the pigments of the recipe.
func (s *slipped) codes() (codes []string) {
	for _, c := range s.shop.Codes {
		if s.recipe.Loadings[c] > 0 {
			codes = append(codes, c)
		}
	}
	return codes
}

// read reads a part as the bench's instrument does.
func (s *slipped) read(r color.Reflectance) Pour {
	chip := s.evidence.Of([]calibrate.Chip{s.shop.Read(s.rng, s.shop.Chip("", nil), r)})[0]
	if chip.Spectrum != nil {
		chip.Labs = nil
	}
	return Pour{Labs: chip.Labs, Spectrum: chip.Spectrum}
}

// off is the true CIEDE2000 of a part from the true target.
func (s *slipped) off(r color.Reflectance) float64 {
	w, err := color.WeightsFor(color.D65Ten())
	if err != nil {
		return math.Inf(1)
	}
	return color.Delta00(s.truth.Values(), w.Lab(&r).Values())
}

// pour weighs 100 g on a scale of 0.01 g and pours.
func (s *slipped) pour(loadings map[string]calibrate.PHR) (Pour, float64) {
	chip := s.shop.Chip("", loadings)
	chip.ChipGrams, chip.ScaleGrams = 100, 0.01
	for c, v := range chip.Loadings {
		chip.Loadings[c] = calibrate.PHR(math.Round(float64(v)*100) / 100)
	}
	r := s.lot.Reflectance(s.lot.Pour(s.rng, chip), s.shop.Setting)
	p := s.read(r)
	p.Loadings, p.BatchGrams, p.ScaleGrams = chip.Loadings, 100, 0.01
	return p, s.off(r)
}

// course is the way of one target: true CIEDE2000 at the first pour and after
// each correction, whether it was recommended, and what it was expected to be.
type course struct {
	off       []float64
	corrected []bool
	expected  []float64
	surprise  float64 // largest of the course
}

// batches corrects by new batches of the pigments in the cup.
func (s slipped) batches(t testing.TB, corrections int) (c course) {
	t.Helper()
	p, off := s.pour(s.recipe.Loadings)
	pours := []Pour{p}
	c.off = []float64{off}
	for range corrections {
		x, err := Correct(context.Background(), s.cal, s.target, pours, CorrectOptions{Limits: Limits{BatchGrams: 100, ScaleGrams: 0.01}})
		require.NoError(t, err)
		if x.Best == NextBatch {
			p, off = s.pour(x.Next.Loadings)
			pours = append(pours, p)
		}
		c.add(off, x.Best == NextBatch, x.Next.Expected)
		c.surprise = math.Max(c.surprise, x.Learned.Surprise)
	}
	return c
}

func (c *course) add(off float64, corrected bool, expected float64) {
	c.off = append(c.off, off)
	c.corrected = append(c.corrected, corrected)
	c.expected = append(c.expected, expected)
}

// pots corrects by additions to the tinted half of a 1:1 resin, 150 g, of which
// a few grams are mixed and read each time.
func (s slipped) pots(t testing.TB, corrections int) (c course) {
	t.Helper()
	codes := s.codes()
	pot := Pot{Resin: 150, Share: 0.5, Pigments: map[string]calibrate.Grams{}, ScaleGrams: 0.01}
	really := map[string]float64{}
	weigh := func(code string, g calibrate.Grams) {
		shown := math.Round(float64(g)*100) / 100
		pot.Pigments[code] += calibrate.Grams(shown)
		really[code] += math.Max(shown+(s.rng.Float64()-0.5)*0.01, 0)
	}
	for _, code := range codes {
		weigh(code, calibrate.Grams(s.recipe.Loadings[code]*3))
	}
	var pours []Pour
	shot := func() float64 {
		written, cup := map[string]calibrate.PHR{}, map[string]calibrate.PHR{}
		for _, code := range codes {
			written[code] = calibrate.PHR(float64(pot.Pigments[code]) / pot.mixed() * 100)
			cup[code] = calibrate.PHR(really[code] / pot.mixed() * 100)
		}
		r := s.lot.Reflectance(cup, s.shop.Setting)
		p := s.read(r)
		p.Loadings, p.BatchGrams, p.ScaleGrams, p.FromPot = written, calibrate.Grams(pot.mixed()), 0.01, true
		pours = append(pours, p)
		return s.off(r)
	}
	off := shot()
	c.off = []float64{off}
	for range corrections {
		x, err := Correct(context.Background(), s.cal, s.target, pours, CorrectOptions{Limits: Limits{BatchGrams: 300, ScaleGrams: 0.01}, Pot: &pot})
		require.NoError(t, err)
		way := x.Add
		if x.Grow != nil && x.Grow.Recommended {
			way = x.Grow
		}
		if way.Recommended {
			for _, code := range codes {
				if g := way.Add[code]; g > 0 {
					weigh(code, g)
				}
			}
			pot.Resin += way.Resin
			off = shot()
		}
		c.add(off, way.Recommended, way.Expected)
		c.surprise = math.Max(c.surprise, x.Learned.Surprise)
	}
	return c
}

// slipTable sums up courses.
type slipTable struct {
	evidence          virtualshop.Evidence
	within1, within05 []float64 // per cent, by corrections
	corrected, worse  int       // corrections, and those that came out further off by more than 0.1
	expected, came    float64   // mean CIEDE2000 of corrected pours
	alarms            int       // courses said to hold a mistake
}

func tabulate(e virtualshop.Evidence, courses []course) slipTable {
	out := slipTable{evidence: e}
	n := float64(len(courses))
	for round := range courses[0].off {
		var w1, w05 float64
		for _, c := range courses {
			if c.off[round] <= 1 {
				w1 += 100 / n
			}
			if c.off[round] <= 0.5 {
				w05 += 100 / n
			}
		}
		out.within1, out.within05 = append(out.within1, w1), append(out.within05, w05)
	}
	for _, c := range courses {
		if c.surprise > surprising {
			out.alarms++
		}
		for i, corrected := range c.corrected {
			if !corrected {
				continue
			}
			out.corrected++
			out.expected += c.expected[i]
			out.came += c.off[i+1]
			if c.off[i+1] > c.off[i]+0.1 {
				out.worse++
			}
		}
	}
	out.expected /= math.Max(float64(out.corrected), 1)
	out.came /= math.Max(float64(out.corrected), 1)
	return out
}

func (s slipTable) worsePercent() float64 {
	return 100 * float64(s.worse) / math.Max(float64(s.corrected), 1)
}

func slipHead(corrections int) string {
	head := fmt.Sprintf("%-13s | %-13s", "evidence", "first pour")
	for i := range corrections {
		head += fmt.Sprintf(" | %-13s", fmt.Sprintf("corrected %d", i+1))
	}
	return head + " | corrected, worse | expected, came | alarms"
}

func (s slipTable) String() string {
	row := fmt.Sprintf("%-13s", s.evidence)
	for i := range s.within1 {
		row += fmt.Sprintf(" | %5.1f / %5.1f", s.within1[i], s.within05[i])
	}
	return row + fmt.Sprintf(" | %4d  %2d  %4.1f %% | %.2f  %.2f     | %d", s.corrected, s.worse, s.worsePercent(), s.expected, s.came, s.alarms)
}
