package workbench_test

import (
	"fmt"

	"masstone/recipes/workbench"
)

func ExampleKeys() {
	fmt.Println(workbench.Keys(workbench.LotStrength{}))
	// Output: code, lot, strength (1 as calibrated), low95, high95, ln_strength, sd_ln
}
