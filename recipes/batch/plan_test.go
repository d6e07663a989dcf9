package batch_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/recipes/batch"
)

// clearResin is an invented resin, used throughout.
func clearResin() batch.Resin {
	return batch.Resin{
		Mix: batch.Ratio{A: 100, B: 90}, DensityA: batch.GramsPerML(1.05), DensityB: batch.GramsPerML(1.00),
		PotLife: 7 * time.Minute, PigmentSide: batch.SideB, MaxPHR: 4,
	}
}

func request(grams float64, recipe map[string]batch.PHR) batch.Request {
	return batch.Request{
		Recipe: recipe, Resin: clearResin(), Order: batch.Order{Total: batch.Grams(grams)},
		Scale: batch.Scale{Step: batch.Grams(0.01)}, Handling: batch.UsualHandling(),
	}
}

// grams lists what a sheet asks for, item by item in order.
func grams(s batch.Sheet) (items []string, lines, cumulative []string) {
	for _, l := range s.Lines {
		items = append(items, l.Item)
		lines = append(lines, l.Grams.At(s.Step))
		cumulative = append(cumulative, l.Cumulative.At(s.Step))
	}
	return items, lines, cumulative
}

// By hand, 250 g of WH 1.00 phr and RD 0.20 phr in 100:90, pigments in B:
//
//	R  = 250 / 1.012       = 247.0356
//	WH = 1.00 x R / 100    = 2.4704 -> 2.47
//	RD = 0.20 x R / 100    = 0.4941 -> 0.49
//	resin left             = 250 - 2.96 = 247.04
//	A  = 247.04 x 100/190  = 130.0211 -> 130.02
//	B  = 247.04 - 130.02   = 117.02
//
// phr as weighed: 2.47/247.04 = 0.99984, 0.49/247.04 = 0.19835.
func TestPlanByHand(t *testing.T) {
	s, err := batch.Plan(request(250, map[string]batch.PHR{"WH": 1, "RD": 0.2, "BK": 0}))
	require.NoError(t, err)
	items, lines, cumulative := grams(s)
	require.Equal(t, []string{"B", "RD", "WH", "A"}, items)
	require.Equal(t, []string{"117.02", "0.49", "2.47", "130.02"}, lines)
	require.Equal(t, []string{"117.02", "117.51", "119.98", "250.00"}, cumulative)
	require.Equal(t, "250 g", s.Total.String())
	require.Equal(t, "247.04 g", s.MixedResin.String())
	require.InDelta(t, 0.99984, float64(s.Weighed["WH"]), 5e-6)
	require.InDelta(t, 0.19835, float64(s.Weighed["RD"]), 5e-6)
	require.True(t, s.Lines[3].Clock, "the side without pigment starts the pot life")
	require.Nil(t, s.Expected, "no outcome, no difference")
	require.NotContains(t, s.Weighed, "BK", "a loading of zero is no pigment")
}

// By hand, the same recipe with the pigments in A: A comes first, B last.
//
//	B = 247.04 x 90/190 = 117.0189 -> 117.02, A = 130.02
func TestPlanPigmentInA(t *testing.T) {
	r := request(250, map[string]batch.PHR{"WH": 1, "RD": 0.2})
	r.Resin.PigmentSide = batch.SideA
	s, err := batch.Plan(r)
	require.NoError(t, err)
	items, lines, _ := grams(s)
	require.Equal(t, []string{"A", "RD", "WH", "B"}, items)
	require.Equal(t, []string{"130.02", "0.49", "2.47", "117.02"}, lines)
}

// By hand, 18.5 ml x 12 shots + 10 %, WH at 2.0 g/ml, RD of unknown density:
//
//	clear: 0.526316/1.05 + 0.473684/1.00      = 0.9749373 ml/g
//	mass   1 + 0.010 + 0.002                  = 1.012
//	volume 0.9749373 + 0.010/2 + 0.002x0.974937 = 0.9818872
//	rho    1.012 / 0.9818872                 = 1.0306683 g/ml
//	T      18.5 x 12 x 1.10 x 1.0306683      = 251.6892 -> 251.69 (up)
func TestPlanByVolume(t *testing.T) {
	r := request(0, map[string]batch.PHR{"WH": 1, "RD": 0.2})
	r.Order = batch.Order{Cavity: batch.Millilitres(18.5), Shots: 12, Waste: 0.10}
	r.Colorants = map[string]batch.Colorant{"WH": {Density: batch.GramsPerML(2)}}
	s, err := batch.Plan(r)
	require.NoError(t, err)
	require.InDelta(t, 1.0306683, s.Density.GramsPerML(), 5e-8)
	require.Equal(t, "251.69 g", s.Total.String())
	require.InDelta(t, 244.2, s.Volume.Millilitres(), 0.01)
	require.Contains(t, strings.Join(s.Notes, "\n"), "Density of RD is not known")
	require.NotContains(t, strings.Join(s.Notes, "\n"), "Density of WH")
}

// By hand, 100 g with 3 drops of 0.03 g: R = 100/1.00091 = 99.909,
// BK 0.091 phr = 0.09092 g = 3.03 drops -> 3 drops = 0.09 g;
// resin 99.91, A = 52.5842 -> 52.58, B = 47.33.
func TestPlanDrops(t *testing.T) {
	r := request(100, map[string]batch.PHR{"BK": 0.091})
	r.Colorants = map[string]batch.Colorant{"BK": {Drop: batch.Grams(0.03), Scatter: 0.1}}
	s, err := batch.Plan(r)
	require.NoError(t, err)
	_, lines, _ := grams(s)
	require.Equal(t, []string{"47.33", "0.09", "52.58"}, lines)
	require.EqualValues(t, 3, s.Lines[1].Drops)
}

func TestPlanRefuses(t *testing.T) {
	nan := math.NaN()
	for name, c := range map[string]struct {
		change func(*batch.Request)
		says   string
	}{
		"too much paste":   {func(r *batch.Request) { r.Recipe["WH"] = 4.1 }, "resin bears 4"},
		"negative loading": {func(r *batch.Request) { r.Recipe["WH"] = -1 }, "loading of WH"},
		"NaN loading":      {func(r *batch.Request) { r.Recipe["WH"] = batch.PHR(nan) }, "loading of WH"},
		"pigment named A":  {func(r *batch.Request) { r.Recipe["A"] = 1 }, "another code"},
		"pigment unnamed":  {func(r *batch.Request) { r.Recipe[""] = 1 }, "no code"},
		"no order":         {func(r *batch.Request) { r.Order = batch.Order{} }, "empty order"},
		"two orders":       {func(r *batch.Request) { r.Order.Shots = 3 }, "give one of them"},
		"negative order":   {func(r *batch.Request) { r.Order.Total = batch.Grams(-1) }, "more than 0"},
		"NaN order":        {func(r *batch.Request) { r.Order.Total = batch.Grams(nan) }, "more than 0"},
		"huge order":       {func(r *batch.Request) { r.Order.Total = batch.Grams(math.Inf(1)) }, "at most 1000000 g"},
		"NaN growth":       {func(r *batch.Request) { r.Order.Grow = nan }, "growth"},
		"no cavity":        {func(r *batch.Request) { r.Order = batch.Order{Shots: 3} }, "cavity of 0 ml"},
		"no shots":         {func(r *batch.Request) { r.Order = batch.Order{Cavity: batch.Millilitres(3)} }, "0 shots"},
		"NaN waste":        {func(r *batch.Request) { r.Order = batch.Order{Cavity: batch.Millilitres(3), Shots: 1, Waste: nan} }, "waste"},
		"enormous cavity":  {func(r *batch.Request) { r.Order = batch.Order{Cavity: batch.Millilitres(1e6), Shots: 1e6} }, "check cavity and shots"},
		"volume, no rho": {func(r *batch.Request) {
			r.Order = batch.Order{Cavity: batch.Millilitres(3), Shots: 1}
			r.Resin.DensityA = batch.Density{}
		}, "density of side A or B"},
		"no mix":            {func(r *batch.Request) { r.Resin.Mix = batch.Ratio{} }, "100:90"},
		"no side":           {func(r *batch.Request) { r.Resin.PigmentSide = "C" }, "give A or B"},
		"odd density":       {func(r *batch.Request) { r.Resin.DensityB = batch.GramsPerML(1050) }, "side B is 1050 g/ml"},
		"NaN density":       {func(r *batch.Request) { r.Resin.DensityB = batch.GramsPerML(nan) }, "side B"},
		"pot life":          {func(r *batch.Request) { r.Resin.PotLife = -1 }, "pot life"},
		"max phr":           {func(r *batch.Request) { r.Resin.MaxPHR = batch.PHR(nan) }, "max phr"},
		"no scale":          {func(r *batch.Request) { r.Scale = batch.Scale{} }, "last digit"},
		"negative minimum":  {func(r *batch.Request) { r.Scale.Minimum = batch.Grams(-1) }, "negative"},
		"paste density":     {func(r *batch.Request) { r.Colorants = map[string]batch.Colorant{"WH": {Density: batch.GramsPerML(99)}} }, "density of WH"},
		"negative drop":     {func(r *batch.Request) { r.Colorants = map[string]batch.Colorant{"WH": {Drop: batch.Grams(-1)}} }, "drop of WH"},
		"NaN scatter":       {func(r *batch.Request) { r.Colorants = map[string]batch.Colorant{"WH": {Scatter: nan}} }, "scatter"},
		"negative cup":      {func(r *batch.Request) { r.Handling.MaxCup = batch.Grams(-1) }, "largest cup"},
		"NaN container":     {func(r *batch.Request) { r.Handling.Container = batch.Millilitres(nan) }, "container"},
		"headroom":          {func(r *batch.Request) { r.Handling.Headroom = 0.5 }, "headroom"},
		"negative degas":    {func(r *batch.Request) { r.Handling.Degas = -1 }, "degassing"},
		"NaN pouring":       {func(r *batch.Request) { r.Handling.PourRate = nan }, "pouring"},
		"margin":            {func(r *batch.Request) { r.Handling.Margin = 1 }, "margin"},
		"thimble cups":      {func(r *batch.Request) { r.Handling.MaxCup = batch.Grams(0.1) }, "raise the cup size"},
		"step-sized cups":   {func(r *batch.Request) { r.Handling.MaxCup = batch.Grams(0.02) }, "raise the cup size"},
		"NaN tolerance":     {func(r *batch.Request) { r.Tolerance = nan }, "tolerance"},
		"batch of one step": {func(r *batch.Request) { r.Order.Total = batch.Grams(0.01) }, "g or more, the smallest batch that can be weighed"},
		"outcome NaN":       {func(r *batch.Request) { r.Outcome = func(batch.Mixture) (float64, error) { return nan, nil } }, "cannot judge"},
		"outcome negative":  {func(r *batch.Request) { r.Outcome = func(batch.Mixture) (float64, error) { return -1, nil } }, "cannot judge"},
	} {
		t.Run(name, func(t *testing.T) {
			r := request(250, map[string]batch.PHR{"WH": 1, "RD": 0.2})
			c.change(&r)
			_, err := batch.Plan(r)
			require.ErrorContains(t, err, c.says)
			require.NotContains(t, err.Error(), "\n", "errors are one line")
		})
	}
}

func TestSheetJSON(t *testing.T) {
	r := request(100, map[string]batch.PHR{"WH": 1, "BK": 0.02})
	r.Outcome, r.Tolerance = target(r.Recipe, 0.3), 1
	s, err := batch.Plan(r)
	require.NoError(t, err)
	written, err := json.Marshal(s)
	require.NoError(t, err)

	var keys struct {
		Lines []struct {
			Item       string
			Grams      *float64
			Cumulative *float64 `json:"cumulative_grams"`
		}
		Total *float64 `json:"total_grams"`
	}
	require.NoError(t, json.Unmarshal(written, &keys))
	require.Equal(t, 100.0, *keys.Total)
	require.Equal(t, "B", keys.Lines[0].Item)
	require.Equal(t, 46.49, *keys.Lines[0].Grams)
	require.Equal(t, 100.0, *keys.Lines[3].Cumulative)

	var again batch.Sheet
	require.NoError(t, json.Unmarshal(written, &again))
	rewritten, err := json.Marshal(again)
	require.NoError(t, err)
	require.Equal(t, string(written), string(rewritten))
	require.Equal(t, s.Lines, again.Lines, "masses survive to the microgram")

	require.ErrorContains(t, json.Unmarshal([]byte(`{"total_grams":"much"}`), &again), "mass in grams")
	require.ErrorContains(t, json.Unmarshal([]byte(`{"mix":"100"}`), &again), "100:90")
}

func TestCautions(t *testing.T) {
	all := strings.ToLower(strings.Join(batch.Cautions(), "\n"))
	for _, word := range []string{"isocyanate", "amine", "tin", "mercury", "pigment", "solvent", "heats itself", "vacuum",
		"pressure pot", "gloves", "respirator", "safety data sheet", "local rules", "licensed"} {
		require.Contains(t, all, word)
	}
	batch.Cautions()[0] = "nothing to fear"
	require.NotEqual(t, "nothing to fear", batch.Cautions()[0], "the text cannot be changed from outside")
	s, err := batch.Plan(request(250, nil))
	require.NoError(t, err)
	require.Equal(t, batch.Cautions(), s.Cautions, "every sheet carries them")
}
