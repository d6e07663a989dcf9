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
	"time"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// realShop is a shop whose pigments have the curves of testdata/real_pigments,
// as a fit on all its spectra finds them.
func realShop(t testing.TB) *virtualshop.Shop {
	t.Helper()
	chips, pigments := readChips(t, "../testdata/real_pigments/chips.csv")
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

// outcome of one slipped target: true CIEDE2000 from the true target at the
// first pour and after each correction.
type outcome struct {
	de        []float64
	corrected []bool
	told      []Correction
}

// A slipStudy follows targets of a shop through corrections.
type slipStudy struct {
	evidence virtualshop.Evidence
	outcomes []outcome
}

func runSlip(t testing.TB, s *virtualshop.Shop, e virtualshop.Evidence, seed uint64, targets, corrections int, o calibrate.Options, tweak func(*CorrectOptions)) slipStudy {
	rng := rand.New(rand.NewPCG(seed, 's'))
	chips := s.CastAll(rng, s.Study(virtualshop.TwoTint))
	cal, err := calibrate.Fit(context.Background(), s.Codes, e.Of(chips), o)
	require.NoError(t, err)
	out := slipStudy{evidence: e}
	limits := Limits{BatchGrams: 100, ScaleGrams: 0.01}
	for i, mix := range s.Mixtures(rng, targets) {
		truth := s.Color(mix, s.Setting, color.D65Ten())
		part := e.Of([]calibrate.Chip{s.Read(rng, s.Chip("target", nil), s.Reflectance(mix, s.Setting))})[0]
		target := Target{Name: fmt.Sprint("T", i), Labs: part.Labs, Spectrum: part.Spectrum, Setting: s.Setting}
		if e == virtualshop.Spectra {
			target.Labs = nil
		}
		m, err := newMatch(cal, target, limits)
		require.NoError(t, err)
		list, _, err := m.search(context.Background())
		require.NoError(t, err)
		r, err := m.recipe(list[0])
		require.NoError(t, err)
		var codes []string
		for _, c := range s.Codes {
			if r.Loadings[c] > 0 {
				codes = append(codes, c)
			}
		}
		slip := 0.85
		if rng.IntN(2) == 0 {
			slip = 1.15
		}
		lot := s.WithLot(codes[rng.IntN(len(codes))], slip)
		var pours []Pour
		var res outcome
		pour := func(loadings map[string]calibrate.PHR) {
			chip := s.Chip("", loadings)
			chip.ChipGrams, chip.ScaleGrams = 100, 0.01
			for c, v := range chip.Loadings {
				chip.Loadings[c] = calibrate.PHR(math.Round(float64(v)*100) / 100)
			}
			refl := lot.Reflectance(lot.Pour(rng, chip), s.Setting)
			read := e.Of([]calibrate.Chip{s.Read(rng, chip, refl)})[0]
			pours = append(pours, Pour{Loadings: chip.Loadings, Labs: read.Labs, Spectrum: read.Spectrum, BatchGrams: 100, ScaleGrams: 0.01})
			w, _ := color.WeightsFor(color.D65Ten())
			res.de = append(res.de, color.Delta00(truth.Values(), w.Lab(&refl).Values()))
		}
		pour(r.Loadings)
		for range corrections {
			opts := CorrectOptions{Limits: limits}
			if tweak != nil {
				tweak(&opts)
			}
			c, err := Correct(context.Background(), cal, target, pours, opts)
			require.NoError(t, err)
			res.told = append(res.told, c)
			res.corrected = append(res.corrected, c.Best != LiveWithIt)
			if c.Best == LiveWithIt && os.Getenv("D") == "" {
				res.de = append(res.de, res.de[len(res.de)-1])
				continue
			}
			pour(c.Next.Loadings)
		}
		out.outcomes = append(out.outcomes, res)
	}
	return out
}

func (s slipStudy) within(round int, de float64) float64 {
	n := 0.0
	for _, o := range s.outcomes {
		if o.de[round] <= de {
			n++
		}
	}
	return 100 * n / float64(len(s.outcomes))
}

// worse counts corrected pours and those that came out worse by more than 0.1.
func (s slipStudy) worse() (corrected, worse int) {
	for _, o := range s.outcomes {
		for i, c := range o.corrected {
			if !c {
				continue
			}
			corrected++
			if o.de[i+1] > o.de[i]+0.1 {
				worse++
			}
		}
	}
	return corrected, worse
}

func (s slipStudy) row() string {
	c, w := s.worse()
	var b strings.Builder
	fmt.Fprintf(&b, "%-13s", s.evidence)
	for r := range s.outcomes[0].de {
		fmt.Fprintf(&b, " | %5.1f %5.1f", s.within(r, 1), s.within(r, 0.5))
	}
	fmt.Fprintf(&b, " | %4d %4d %4.1f%%", c, w, 100*float64(w)/float64(max(c, 1)))
	return b.String()
}

func TestZZSlip(t *testing.T) {
	var s *virtualshop.Shop
	switch os.Getenv("SHOP") {
	case "painted":
		s = virtualshop.Painted(9, 12)
	case "radiative":
		s = virtualshop.Radiative(9, 12)
	default:
		s = realShop(t)
	}
	for _, e := range virtualshop.Evidences() {
		t0 := time.Now()
		st := runSlip(t, s, e, seedOf(), 100, 2, calibrate.Options{Layer: calibrate.KubelkaMunk}, func(o *CorrectOptions) {
			o.Bias, _ = strconv.ParseFloat(os.Getenv("BIAS"), 64)
		})
		fmt.Println(st.row(), time.Since(t0))
		var claimed, got, worse, worseGot, n, inside float64
		for _, o := range st.outcomes {
			for k, c := range o.told {
				if o.corrected[k] {
					n++
					claimed += c.Next.Expected
					got += o.de[k+1]
					worse += c.Next.Worse
					if o.de[k+1] > o.de[k] {
						worseGot++
					}
					if o.de[k+1] <= c.Next.Upper95 {
						inside++
					}
				}
			}
		}
		fmt.Printf("    claimed %.3f got %.3f worse %.3f got %.3f inside95 %.3f n %v\n", claimed/n, got/n, worse/n, worseGot/n, inside/n, n)
		if os.Getenv("D") != "" {
			for _, o := range st.outcomes {
				for k, c := range o.told {
					fmt.Printf("D %d %d %.3f %.3f %.3f %.3f %.3f %.3f %.3f\n", len(e), k, o.de[k], c.Live.Expected, c.Live.DE00, c.Next.Expected, c.Next.DE00, c.Next.Worse, o.de[k+1])
				}
			}
		}
		if os.Getenv("V") != "" {
			for i, o := range st.outcomes {
				fmt.Printf("  %d ", i)
				for k, d := range o.de {
					fmt.Printf(" %.2f", d)
					if k < len(o.told) {
						c := o.told[k]
						fmt.Printf(" [live %.2f next %.2f worse %.2f %v]", c.Live.Expected, c.Next.Expected, c.Next.Worse, o.corrected[k])
					}
				}
				fmt.Println()
			}
		}
	}
}

// readChips reads the spectra of testdata/real_pigments.
func readChips(t testing.TB, file string) (chips []calibrate.Chip, pigments []string) {
	t.Helper()
	f, err := os.Open(file)
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

func seedOf() uint64 {
	n, _ := strconv.Atoi(os.Getenv("SEED"))
	return uint64(n) + 1
}

func TestZZPot(t *testing.T) {
	s := realShop(t)
	for _, e := range virtualshop.Evidences() {
		rng := rand.New(rand.NewPCG(seedOf(), 'p'))
		chips := s.CastAll(rng, s.Study(virtualshop.TwoTint))
		cal, err := calibrate.Fit(context.Background(), s.Codes, e.Of(chips), calibrate.Options{Layer: calibrate.KubelkaMunk})
		require.NoError(t, err)
		var first, after, after2 [2]int
		var dt time.Duration
		var nc int
		claimed, got, n := 0.0, 0.0, 0.0
		grown := 0
		for i, mix := range s.Mixtures(rng, 50) {
			truth := s.Color(mix, s.Setting, color.D65Ten())
			part := e.Of([]calibrate.Chip{s.Read(rng, s.Chip("target", nil), s.Reflectance(mix, s.Setting))})[0]
			target := Target{Name: fmt.Sprint("T", i), Labs: part.Labs, Spectrum: part.Spectrum, Setting: s.Setting}
			if e == virtualshop.Spectra {
				target.Labs = nil
			}
			m, err := newMatch(cal, target, Limits{BatchGrams: 300, ScaleGrams: 0.01})
			require.NoError(t, err)
			list, _, err := m.search(context.Background())
			require.NoError(t, err)
			r, err := m.recipe(list[0])
			require.NoError(t, err)
			var codes []string
			for _, c := range s.Codes {
				if r.Loadings[c] > 0 {
					codes = append(codes, c)
				}
			}
			slip := 0.85
			if rng.IntN(2) == 0 {
				slip = 1.15
			}
			lot := s.WithLot(codes[rng.IntN(len(codes))], slip)
			pot := Pot{Resin: 150, Share: 0.5, Pigments: map[string]calibrate.Grams{}, ScaleGrams: 0.01}
			really := map[string]float64{}
			weigh := func(code string, g calibrate.Grams) {
				w := math.Round(float64(g)*100) / 100
				pot.Pigments[code] += calibrate.Grams(w)
				really[code] += math.Max(w+(rng.Float64()-0.5)*0.01, 0)
			}
			for _, c := range codes {
				weigh(c, calibrate.Grams(r.Loadings[c]*3))
			}
			var pours []Pour
			shot := func() float64 {
				written, cup := map[string]calibrate.PHR{}, map[string]calibrate.PHR{}
				for _, c := range codes {
					written[c] = calibrate.PHR(float64(pot.Pigments[c]) / pot.mixed() * 100)
					cup[c] = calibrate.PHR(really[c] / pot.mixed() * 100)
				}
				refl := lot.Reflectance(cup, s.Setting)
				read := e.Of([]calibrate.Chip{s.Read(rng, s.Chip("", written), refl)})[0]
				pours = append(pours, Pour{Loadings: written, Labs: read.Labs, Spectrum: read.Spectrum, BatchGrams: calibrate.Grams(pot.mixed()), ScaleGrams: 0.01, FromPot: true})
				w, _ := color.WeightsFor(color.D65Ten())
				return color.Delta00(truth.Values(), w.Lab(&refl).Values())
			}
			count := func(c *[2]int, d float64) {
				if d <= 1 {
					c[0]++
				}
				if d <= 0.5 {
					c[1]++
				}
			}
			d := shot()
			d0 := d
			count(&first, d)
			for k := range 2 {
				p := pot
				t0 := time.Now()
				c, err := Correct(context.Background(), cal, target, pours, CorrectOptions{Limits: Limits{BatchGrams: 300, ScaleGrams: 0.01}, Pot: &p})
				require.NoError(t, err)
				dt += time.Since(t0)
				nc++
				var way *PotRoute
				if c.Add.Recommended {
					way = c.Add
				}
				if c.Grow != nil && c.Grow.Recommended && (way == nil || c.Grow.Expected < way.Expected-0.1) {
					way = c.Grow
					grown++
				}
				if way != nil {
					for _, code := range codes {
						weigh(code, way.Add[code])
					}
					pot.Resin += way.Resin
					d = shot()
					claimed += way.Expected
					got += d
					n++
				}
				if os.Getenv("V") != "" && way != nil && k == 0 {
					fmt.Println(i, d0, "->", d, way.Expected, c.Add.Expected, way.Growth, way.Add, c.Notes)
				}
				if k == 0 {
					count(&after, d)
				} else {
					count(&after2, d)
				}
			}
		}
		fmt.Println(e, first, after, after2, "claimed", claimed/n, "got", got/n, n, "grown", grown, "per correct", dt/time.Duration(nc))
	}
}
