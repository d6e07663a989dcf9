package workbench

import (
	"bytes"
	"encoding/json"
	"fmt"
	"time"

	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// aMoment is how soon the same once more is rather a command that was repeated,
// since its answer was lost, than a second pour, draw or approval.
const aMoment = time.Minute

// same tells whether two records say the same, apart from their numbers and when
// they were made.
func same[R any](a, b R) bool {
	x, err := json.Marshal(a)
	y, other := json.Marshal(b)
	return err == nil && other == nil && bytes.Equal(x, y)
}

// twice refuses to record what was recorded a moment ago.
func twice(what string, first, again archive.Stamp) error {
	ago := again.At.Sub(first.At)
	if ago < 0 || ago >= aMoment {
		return nil
	}
	return &Error{Repeated, "again", fmt.Errorf("%s, with the same content, %s ago; nothing was stored now: add %s if it is meant once more",
		what, figure.Duration(ago.Round(time.Second)), remedy.Input("again"))}
}
