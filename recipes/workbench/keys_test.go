package workbench_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func ExampleKeys() {
	fmt.Println(workbench.Keys(workbench.LotStrength{}))
	// Output: code, lot, strength (1 as calibrated), low95, high95, ln_strength, sd_ln
}

// TestKeys: what is nested, listed, embedded, told elsewhere, or no key.
func TestKeys(t *testing.T) {
	type inner struct {
		Lab figure.Lab `json:"lab" doc:"read"`
		Own *inner     `json:"own"`
	}
	type outer struct {
		inner
		One    inner            `json:"one,omitempty"`
		Many   []*inner         `json:"many" doc:"in order"`
		By     map[string]inner `json:"by"`
		Told   []inner          `json:"told" as:"recipe show"`
		Hidden string           `json:"-"`
		secret int
	}
	require.Equal(t, `lab (read), own, one (lab (read), own), many (in order: a list of lab (read), own), by (lab (read), own), told (a list with the keys of "recipe show")`,
		workbench.Keys(outer{secret: 1}))
}
