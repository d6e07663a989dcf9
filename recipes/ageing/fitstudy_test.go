//go:build study

package ageing_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
	"masstone/recipes/ageing"
)

// TestStudyYoungPours: pours read a day old beside chips that are settled, in shops
// whose parts yellow by about half a unit from then on: what they make of a fit as they
// read, as expected once settled by what so many parts taught, and had they been read
// settled.
func TestStudyYoungPours(t *testing.T) {
	const pours, unseen = 12, 120
	yellows := resin{tau: 40, sigma: 0.1, total: [3]float64{-0.3, 0.1, 0.9}}
	for _, e := range virtualshop.Evidences() {
		type sum struct{ mean, claimed, inside float64 }
		sums := map[string]*sum{}
		shops := []*virtualshop.Shop{virtualshop.Painted(21, 5), virtualshop.CrookedPastes(21, 5)}
		for i, s := range shops {
			rng := rand.New(rand.NewPCG(uint64(i), 'y'))
			chips := e.Of(s.CastAll(rng, s.Study(virtualshop.Tint)))
			var cups, settled, young []calibrate.Chip
			for k, m := range s.Mixtures(rng, pours) {
				cups = append(cups, s.Chip(fmt.Sprint("P", k), m))
			}
			cups = s.CastAll(rng, cups)
			settled = e.Of(cups)
			labs := virtualshop.ThreeLights // of a part read young a spectrum becomes colours
			if e == virtualshop.OneLight {
				labs = e
			}
			for _, c := range labs.Of(cups) {
				at := yellows.part(rng, 0)
				now, then := at(24), at(ageing.SettledHours)
				back := [3]float64{now[0] - then[0], now[1] - then[1], now[2] - then[2]}
				c, err := c.Changed(back, 0)
				require.NoError(t, err)
				young = append(young, c)
			}
			settling := func(parts int) (out []calibrate.Chip) {
				var told [][]ageing.Reading
				teach := rand.New(rand.NewPCG(uint64(i), 't'))
				for range parts {
					told = append(told, read(yellows.part(teach, noise), 24, 168))
				}
				d := ageing.Learn(told, noise)
				by, cov := d.From(24)
				alike := d.Alike(24)
				trace := func(c [3][3]float64) float64 { return (c[0][0] + c[1][1] + c[2][2]) / 3 }
				sd := math.Sqrt(trace(cov) + (pours-1)*trace(alike))
				for _, c := range young {
					c, err := c.Changed(by, sd)
					require.NoError(t, err)
					out = append(out, c)
				}
				return out
			}
			var truth []color.Lab
			mixtures := s.Mixtures(rng, unseen)
			for _, m := range mixtures {
				truth = append(truth, s.Color(m, s.Setting, color.D65Ten()))
			}
			for name, more := range map[string][]calibrate.Chip{"0 none": nil, "1 as read": young, "2 by the prior": settling(0), "3 by 3 parts": settling(3), "4 by 12 parts": settling(12), "5 settled": settled} {
				c, err := calibrate.Fit(context.Background(), s.Codes, append(append([]calibrate.Chip{}, chips...), more...), calibrate.Options{Layer: calibrate.KubelkaMunk})
				require.NoError(t, err)
				if sums[name] == nil {
					sums[name] = new(sum)
				}
				v, n := sums[name], float64(unseen*len(shops))
				for k, m := range mixtures {
					p, err := c.Predict(calibrate.Sample{Loadings: m, Setting: s.Setting}, color.D65Ten())
					require.NoError(t, err)
					got, want := p.Colors[0].Lab.Values(), truth[k].Values()
					v.mean += color.Delta00(got, want) / n
					v.claimed += p.Colors[0].Expected / n
					for a := range got {
						if math.Abs(got[a]-want[a]) <= p.Colors[0].Half95[a] {
							v.inside += 1 / (3 * n)
						}
					}
				}
			}
		}
		for _, name := range []string{"0 none", "1 as read", "2 by the prior", "3 by 3 parts", "4 by 12 parts", "5 settled"} {
			v := sums[name]
			t.Logf("%s, pours %s: mean %.3f (claimed %.3f), inside %.1f %%", e, name[2:], v.mean, v.claimed, 100*v.inside)
		}
	}
}
