package recipes

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// No recipe holds more paste than resin, however much the chips held.
func TestNoMorePasteThanResin(t *testing.T) {
	cal := *small()[0].cal
	cal.MaxTotal = 80
	for _, asked := range []Limits{{}, {TotalPHR: 150}} {
		b, err := asked.resolve(&cal, 3)
		require.NoError(t, err)
		assert.LessOrEqual(t, b.total, 100.0)
	}
}
