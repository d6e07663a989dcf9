package archive

import (
	"math"
	"math/rand/v2"
	"path/filepath"
	"sort"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/color"
)

// shade draws a colour: most of an archive's recipes crowd around a few
// colours, the rest are anywhere.
func shade(r *rand.Rand) [3]float64 {
	crowds := [][3]float64{{94, -1, 3}, {25, 0, -1}, {60, 39, 21}, {32, 18, -48}}
	if r.IntN(3) > 0 {
		c := crowds[r.IntN(len(crowds))]
		return [3]float64{math.Min(100, math.Max(0, c[0]+1.5*r.NormFloat64())), c[1] + 1.5*r.NormFloat64(), c[2] + 1.5*r.NormFloat64()}
	}
	chroma, hue := 90*math.Sqrt(r.Float64()), 2*math.Pi*r.Float64()
	return [3]float64{10 + 85*r.Float64(), chroma * math.Cos(hue), chroma * math.Sin(hue)}
}

// crowd stores n recipes and returns their colours.
func crowd(t testing.TB, b *Bench, n int, r *rand.Rand) [][3]float64 {
	t.Helper()
	colors := make([][3]float64, n)
	_, err := write(ctx(t), b, func(c *change) (int, error) {
		for i := range colors {
			v := shade(r)
			colors[i] = v
			recipe := Recipe{Fact: Fact{Number: int64(i + 1)}, Resin: "CLR", Loadings: map[string]float64{"WH": 1, "RD": 0.2},
				Predicted: []Lab{{v[0], v[1], v[2], "D65", 10}, {v[0], v[2], v[1], "A", 10}}}
			if err := c.insert(ctx(t), kindRecipe, "", &recipe); err != nil {
				return 0, err
			}
		}
		return n, c.log(ctx(t), "recipes added", "", "")
	})
	require.NoError(t, err)
	return colors
}

// byHand measures every recipe.
func byHand(colors [][3]float64, target [3]float64, n int) []float64 {
	all := make([]float64, len(colors))
	for i, c := range colors {
		all[i] = color.Delta00(target, c)
	}
	sort.Float64s(all)
	return all[:min(n, len(all))]
}

func TestNearestIsExact(t *testing.T) {
	if underRace {
		t.Skip("nothing runs at once here")
	}
	b := newBench(t)
	_, err := b.PutResin(ctx(t), clear100(), Refuse)
	require.NoError(t, err)
	_, err = b.ImportPigments(ctx(t), threePigments())
	require.NoError(t, err)
	colors := crowd(t, b, blockSize+300, // a block and a tail
		rand.New(rand.NewPCG(1, 2)))
	rapid.Check(t, func(t *rapid.T) {
		target := [3]float64{rapid.Float64Range(0, 100).Draw(t, "L"), rapid.Float64Range(-110, 110).Draw(t, "a"), rapid.Float64Range(-110, 110).Draw(t, "b")}
		if rapid.Bool().Draw(t, "crowded") {
			target = colors[rapid.IntRange(0, len(colors)-1).Draw(t, "at")]
		}
		limit := rapid.SampledFrom([]int{1, 20, 500}).Draw(t, "limit")
		q := NearestQuery{Lab: lab(target[0], target[1], target[2]), Limit: limit}
		hits, err := read(ctx(nil), b, func(tx *snapshot) ([]hit, error) { return nearest(ctx(nil), tx, q) })
		require.NoError(t, err)
		want := byHand(colors, target, limit)
		require.Len(t, hits, len(want))
		for i := range want {
			require.Equal(t, want[i], hits[i].de, "rank %d", i)
		}
	})
	var blocks int
	require.NoError(t, pool(b).QueryRow(`SELECT count(*) FROM color_block`).Scan(&blocks))
	require.Equal(t, 2, blocks, "one for each light")
	verified(t, b)
}

// The box of reach holds every colour within the difference: the proof in its
// comment, tried.
func TestReach(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	tightest := math.Inf(1)
	for range 200_000 {
		x := [3]float64{100 * r.Float64(), 256*r.Float64() - 128, 256*r.Float64() - 128}
		y := [3]float64{100 * r.Float64(), 256*r.Float64() - 128, 256*r.Float64() - 128}
		switch r.IntN(3) {
		case 0: // the blues, where the formula turns
			c, h := 60*r.Float64(), (275+40*r.NormFloat64())*math.Pi/180
			x[1], x[2] = c*math.Cos(h), c*math.Sin(h)
			fallthrough
		case 1:
			for i := range y {
				y[i] = x[i] + 3*r.NormFloat64()
			}
		}
		dl, dab := reach(x, color.Delta00(x, y))
		far := math.Max(math.Abs(x[1]-y[1]), math.Abs(x[2]-y[2]))
		require.LessOrEqual(t, math.Abs(x[0]-y[0]), dl, "%v %v", x, y)
		require.LessOrEqual(t, far, dab, "%v %v", x, y)
		tightest = math.Min(tightest, dab/far)
	}
	require.Less(t, tightest, 1.2, "the box is far from what it has to hold")
	dl, dab := reach([3]float64{50, 0, 0}, 1)
	require.InDelta(t, 1/(1-0.0075), dl, 1e-6)
	require.Less(t, dab, 1.1, "a grey's box must be tight")
}

func BenchmarkNearest100k(b *testing.B) {
	path := filepath.Join(b.TempDir(), "shop.db")
	bench, err := Create(ctx(b), path, options())
	require.NoError(b, err)
	_, err = bench.PutResin(ctx(b), clear100(), Refuse)
	require.NoError(b, err)
	_, err = bench.ImportPigments(ctx(b), threePigments())
	require.NoError(b, err)
	r := rand.New(rand.NewPCG(1, 2))
	start := time.Now()
	crowd(b, bench, 100_000, r)
	b.Logf("stored 100,000 in %v", time.Since(start))
	require.NoError(b, bench.Close())
	for _, where := range []string{"crowded", "anywhere", "no recipe near"} {
		b.Run(where, func(b *testing.B) {
			var worst time.Duration
			for range b.N {
				b.StopTimer()
				v := [3]float64{5 + 90*r.Float64(), 120*r.Float64() - 60, 120*r.Float64() - 60}
				switch where {
				case "crowded":
					v = [3]float64{94 + r.NormFloat64(), -1 + r.NormFloat64(), 3 + r.NormFloat64()}
				case "no recipe near":
					v = [3]float64{98, 120, -120}
				}
				bench, err := Open(ctx(b), path, options())
				require.NoError(b, err)
				b.StartTimer()
				start := time.Now()
				near, err := bench.Nearest(ctx(b), NearestQuery{Lab: lab(v[0], v[1], v[2])})
				worst = max(worst, time.Since(start))
				b.StopTimer()
				require.NoError(b, err)
				require.Len(b, near, 20)
				require.NoError(b, bench.Close())
				b.StartTimer()
			}
			b.ReportMetric(float64(worst.Microseconds())/1000, "worst-ms")
		})
	}
}
