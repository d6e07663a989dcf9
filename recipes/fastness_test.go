package recipes_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes"
)

func TestFastnessClass(t *testing.T) {
	for text, want := range map[string]float64{"8": 8, "7-8": 7, "7–8": 7, "class 4": 4, "4/5": 4, "220 °C": 220, "6.5": 6.5, " 5 ": 5} {
		got, ok := recipes.FastnessClass(text)
		require.True(t, ok, text)
		require.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "good", "VIII", "-"} {
		_, ok := recipes.FastnessClass(text)
		require.False(t, ok, text)
	}
}

func TestFastEnough(t *testing.T) {
	for _, c := range []struct {
		card   string
		least  float64
		strict bool
		want   bool
	}{
		{"7", 0, true, true}, {"", 0, true, true}, // nothing asked
		{"7", 7, false, true}, {"7", 7.5, false, false}, {"8", 7, true, true}, {"7-8", 8, false, false},
		{"", 7, false, true}, {"", 7, true, false}, {"good", 7, true, false},
	} {
		require.Equal(t, c.want, recipes.FastEnough(c.card, c.least, c.strict), "%+v", c)
	}
}
