package calibrate_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
)

func TestZZLearn(t *testing.T) {
	s := virtualshop.Painted(4, 6)
	rng := rand.New(rand.NewPCG(4, 'l'))
	chips := s.CastAll(rng, s.Study(virtualshop.TwoTint))
	for _, e := range virtualshop.Evidences() {
		t0 := time.Now()
		c, err := calibrate.Fit(context.Background(), s.Codes, e.Of(chips), calibrate.Options{Layer: calibrate.KubelkaMunk})
		require.NoError(t, err)
		fmt.Println(e, time.Since(t0), c.ModelError, c.Noise, c.Posterior.Rank)
		for _, code := range s.Codes {
			lot := s.WithLot(code, 0.85)
			drift := map[string]float64{"": 0.1}
			for _, k := range s.Codes {
				drift[k] = 0.1
			}
			prior, err := c.NewLot(drift)
			require.NoError(t, err)
			var news []calibrate.Chip
			for i, m := range s.Mixtures(rng, 12) {
				m[code] = s.Level / 2
				news = append(news, lot.Cast(rng, s.Chip(fmt.Sprint("N", i), m)))
			}
			for _, n := range []int{1, 3, 12} {
				t0 = time.Now()
				after, l, err := prior.Learn(e.Of(news[:n]), calibrate.LearnOptions{})
				require.NoError(t, err)
				dt := time.Since(t0)
				fmt.Printf("  %s %d steps %d misfit %.2f %v", code, n, l.Steps, l.Misfit, dt)
				for _, k := range append([]string{""}, s.Codes...) {
					fmt.Printf(" %s %.3f±%.3f", k, l.Strengths[k].Ln, l.Strengths[k].SD)
				}
				fmt.Println()
				_ = after
			}
		}
		b, _ := json.Marshal(c)
		fmt.Println(len(b), math.Log(.85))
	}
}
