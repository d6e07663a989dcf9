package recipes

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A chip pays where it raises the chance by 5 points, alone or with those after it.
func TestChipsThatPay(t *testing.T) {
	for name, c := range map[string]struct {
		now  float64
		then []float64
		want int
	}{
		"none planned":      {0.5, nil, 0},
		"little to gain":    {0.91, []float64{0.93, 0.94, 0.95}, 0},
		"the first does":    {0.80, []float64{0.99, 1, 1}, 1},
		"all do":            {0.30, []float64{0.45, 0.60, 0.75}, 3},
		"the first alone":   {0.30, []float64{0.36, 0.38, 0.40}, 1},
		"the second saves":  {0.30, []float64{0.33, 0.60, 0.61}, 2},
		"each a bit":        {0.30, []float64{0.34, 0.38, 0.42}, 0},
		"worse is no worth": {0.50, []float64{0.49, 0.48}, 0},
	} {
		assert.Equal(t, c.want, ChipsThatPay(c.now, c.then), name)
	}
}
