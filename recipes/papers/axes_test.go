package papers_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/papers"
)

// The sample differs by dL -0.35, da -0.36, db +0.33 under D65 and by dL -0.52,
// da -1.18 under FL11: CIEDE2000 0.46 under D65.
func TestAxesOfACertificate(t *testing.T) {
	for _, c := range []struct {
		name      string
		tolerance float64
		axes      map[string]float64
		every     bool
		within    bool
		says      string
	}{
		{"kept", 1, map[string]float64{"L": 0.4, "a": 0.4}, false, true, "agreed is at most 1.00, and either way dL* 0.4, da* 0.4, all of which it keeps."},
		{"over", 1, map[string]float64{"L": 0.3, "a": 0.4}, false, false, "it exceeds dL* by 0.05."},
		{"axes alone", 0, map[string]float64{"b": 0.4}, false, true, "agreed is at most, either way, db* 0.4, all of which it keeps."},
		{"axes kept, tolerance not", 0.1, map[string]float64{"L": 0.4}, false, false, "all of which it keeps"},
		{"another light", 2, map[string]float64{"a": 1}, true, false, "Under FL11/10 the part differs"},
		{"another light, not judged", 2, map[string]float64{"a": 1}, false, true, "Under D65/10 the part differs"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := certificate()
			p.Tolerance, p.Axes, p.EveryLight = c.tolerance, c.axes, c.every
			j, err := p.Judge()
			require.NoError(t, err)
			require.Equal(t, c.within, j.Within)
			var text bytes.Buffer
			require.NoError(t, papers.Write(&text, p, papers.Text, papers.Options{Width: 400}))
			require.Contains(t, text.String(), c.says)
		})
	}
	p := certificate()
	p.Tolerance, p.Axes = 0, nil
	require.Error(t, papers.Write(new(bytes.Buffer), p, papers.Text, papers.Options{}))
	p.Axes = map[string]float64{"Q": 1}
	require.ErrorContains(t, papers.Write(new(bytes.Buffer), p, papers.Text, papers.Options{}), "give limits above 0 of L, a, b, C or H")
}
