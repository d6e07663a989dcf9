package page

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/workbench"
)

// TestCastings: a calibration says how crooked the shop is, and where nothing shows it.
func TestCastings(t *testing.T) {
	for says, want := range map[string]string{
		"": "Nothing in these readings shows",
		"castings miss the law of mixing by 4 %: more chips will not lower expected dE00 below 0.6": "<p>Castings miss the law of mixing by 4 %: more chips will not lower expected dE00 below 0.6.</p>",
	} {
		var out strings.Builder
		require.NoError(t, pages().ExecuteTemplate(&out, "castings", workbench.Castings{Says: says}))
		require.Contains(t, out.String(), want)
	}
}
