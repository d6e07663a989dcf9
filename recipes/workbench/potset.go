package workbench

import (
	"fmt"
	"time"

	"masstone/color/remedy"
	"masstone/recipes/figure"
)

// setBy tells why a mixed pot takes nothing any more, empty if it may. A part is
// read when it has cured, and the pot has set long before; who reads the wet mix,
// or has a resin slow enough, says that the pot still flows. Even so it does not
// once the pot life, which is 0 if it is not known, has passed since the pour was
// recorded. What is added to a pot that has begun to set does not mix in.
func setBy(life, since time.Duration, flows bool) string {
	switch {
	case !flows && life > 0:
		return fmt.Sprintf("its pot life is %s, and a part is read when it has cured", figure.Duration(life))
	case !flows:
		return "a part is read when it has cured"
	case life > 0 && since > life:
		return fmt.Sprintf("its pot life is %s, and it was poured %s ago", figure.Duration(life), figure.Duration(since.Round(time.Minute)))
	}
	return ""
}

// solid says that a mixed pot has set, and what can still be done.
func solid(pour, side, why string) string {
	return fmt.Sprintf("the mixed pot of %s has set: %s; nothing can be added to it. Never stir or heat a pot that sets. What is left of the tinted side, not mixed yet, could be corrected (%s); a pot that still flows is stated with %s",
		pour, why, remedy.InputAs("pot-side", side), remedy.Input("still-flows"))
}
