//go:build study

package recipes_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/calibrate/virtualshop"
	"masstone/color"
	"masstone/recipes"
)

func envInt(name string, def int) int {
	if n, err := strconv.Atoi(os.Getenv(name)); err == nil {
		return n
	}
	return def
}

func TestZDiag(t *testing.T) {
	targets := envInt("TARGETS", 8)
	first := envInt("FIRST", 11)
	pours := 8
	evs := []virtualshop.Evidence{virtualshop.Spectra, virtualshop.OneLight}
	if os.Getenv("EV") != "" {
		evs = []virtualshop.Evidence{virtualshop.Evidence(os.Getenv("EV"))}
	}
	shorts := []bool{true, false}
	if os.Getenv("SHORT") != "" {
		shorts = []bool{os.Getenv("SHORT") == "1"}
	}
	for _, e := range evs {
		for _, short := range shorts {
			var C, L, N float64
			for k := 0; k < 4; k++ {
				world := uint64(first + k)
				start := time.Now()
				s := virtualshop.Painted(world, 8)
				s.StrengthSD = 0.015
				if k > 1 {
					s = virtualshop.CrookedPastes(world, 8)
					s.StrengthSD = 0.02
				}
				w := newCaster(t, s, e)
				rng := rand.New(rand.NewPCG(world, 'h'))
				var whole *calibrate.Calibration
				if !short {
					chips, _ := w.start(t, rng, w.Codes, 0)
					whole = w.fit(t, w.Codes, chips)
				}
				var claimed, landed, chosen, drawn, n, exp, missed, z2, scat, ce, bent, widen, floor, z2d float64
				for _, mix := range w.draw(rng, targets) {
					target, cal := w.wanted(rng, mix), whole
					if short {
						codes := castplan.Likely(mainOf(t, target.Labs, target.Spectrum), w.pastes, nil)
						chips, _ := w.start(t, rng, codes, 1)
						cal = w.fit(t, codes, chips)
					}
					limits := wayLimits
					limits.StrengthScatter = cal.Scatter
					a, err := recipes.Match(context.Background(), cal, target, limits)
					require.NoError(t, err)
					best := a.Recipes[0]
					claimed += best.Chance
					exp += best.Expected
					n++
					scat += cal.Scatter
					ce += cal.CastingError.K
					bent += cal.Law.Bent
					widen += cal.ModelError.Widen
					floor += cal.ModelError.Floor
					want := mainOf(t, target.Labs, target.Spectrum)
					land := 0.
					for range pours {
						cup := w.Chip("part", best.Loadings)
						cup.ChipGrams = 100
						read := w.evidence.Of([]calibrate.Chip{w.Cast(rng, cup)})[0]
						d := color.Delta00(want.Values(), mainOf(t, read.Labs, read.Spectrum).Values())
						missed += d / float64(pours)
						if d <= 1 {
							land += 1. / float64(pours)
						}
					}
					landed += land
					zz := 0.
					off := func(mix map[string]calibrate.PHR) float64 {
						p, err := cal.Conservative().Predict(calibrate.Sample{Loadings: mix, Setting: w.Setting}, color.D65Ten())
						if err != nil {
							return math.NaN()
						}
						truth := s.Color(mix, w.Setting, color.D65Ten())
						miss := color.Delta00(truth.Values(), p.Colors[0].Lab.Values())
						zz = miss / p.Colors[0].Expected
						return zz
					}
					c := off(best.Loadings)
					chosen += c
					z2 += c * c
					d := off(mix)
					if math.IsNaN(d) {
						d = 1
					}
					drawn += d
					z2d += d * d
					if os.Getenv("EACH") != "" && c > 1.7 {
						p, _ := cal.Conservative().Predict(calibrate.Sample{Loadings: best.Loadings, Setting: w.Setting}, color.D65Ten())
						truth := s.Color(best.Loadings, w.Setting, color.D65Ten())
						t.Logf("   >> %v  level %v predicted %.2f half %.2f true %.2f target mix %v", best.Loadings, w.Level, p.Colors[0].Lab.Values(), p.Colors[0].Half95, truth.Values(), mix)
						for _, cv := range cal.Curves {
							for i, code := range w.Codes {
								if code == cv.Code {
									var lk, ls, zk, zs float64
									for b := range cv.K {
										lk += math.Log(cv.K[b]/s.Pigments[i].K[b]) / 31
										ls += math.Log(cv.S[b]/s.Pigments[i].S[b]) / 31
										zk += math.Pow(math.Log(cv.K[b]/s.Pigments[i].K[b])/cv.KSD[b], 2) / 31
										zs += math.Pow(math.Log(cv.S[b]/s.Pigments[i].S[b])/cv.SSD[b], 2) / 31
									}
									t.Logf("      %s: ln K off %.3f (z %.1f) ln S off %.3f (z %.1f, sd %.2f)", code, lk, math.Sqrt(zk), ls, math.Sqrt(zs), cv.SSD[15])
								}
							}
						}
					}
					if os.Getenv("EACH") != "" {
						t.Logf("   claimed %.2f landed %.2f exp %.2f chosen %.2f drawn %.2f scatter %.4f ce %.4f bent %.0f widen %.2f floor %.2f", best.Chance, land, best.Expected, c, d, cal.Scatter, cal.CastingError.K, cal.Law.Bent, cal.ModelError.Widen, cal.ModelError.Floor)
					}
				}
				C += claimed
				L += landed
				N += n
				t.Log(fmt.Sprintf("%s short %v world %d %s: claimed %.0f landed %.0f; expected %.2f missed %.2f; ratio chosen %.2f (rms %.2f) drawn %.2f (rms %.2f); scatter %.4f ce %.4f bent %.2f widen %.2f floor %.2f  %.1fs", e, short, world, s.Name, 100*claimed/n, 100*landed/n, exp/n, missed/n, chosen/n, math.Sqrt(z2/n), drawn/n, math.Sqrt(z2d/n), scat/n, ce/n, bent/n, widen/n, floor/n, time.Since(start).Seconds()))
			}
			t.Log(fmt.Sprintf("== %s short %v: claimed %.0f landed %.0f", e, short, 100*C/N, 100*L/N))
		}
	}
}
