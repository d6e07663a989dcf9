package figure

import (
	"fmt"

	"masstone/color"
)

// A Lab is a CIELAB colour in JSON, beside a key that says under which light
// and observer it holds.
type Lab struct {
	L Number `json:"L"`
	A Number `json:"a"`
	B Number `json:"b"`
}

// LabOf is a colour without its condition.
func LabOf(c color.Lab) Lab { return Lab{Number(c.L), Number(c.A), Number(c.B)} }

// Three are three numbers along L*, a* and b*, such as half widths of bars.
func Three(v [3]float64) Lab { return Lab{Number(v[0]), Number(v[1]), Number(v[2])} }

// String writes the three as people say them: 61.20 38.90 21.40.
func (l Lab) String() string {
	return LabText(color.Lab{L: float64(l.L), A: float64(l.A), B: float64(l.B)})
}

// LabText writes a colour without its condition: 61.20 38.90 21.40.
func LabText(c color.Lab) string { return fmt.Sprintf("%.2f %.2f %.2f", c.L, c.A, c.B) }

// Color is the colour for computing with, under a condition as results write
// it, such as D65/10. One that cannot be read leaves the condition empty.
func (l Lab) Color(under string) color.Lab {
	c, err := color.ParseCondition(under)
	if err != nil {
		c = color.Condition{}
	}
	return color.Lab{L: float64(l.L), A: float64(l.A), B: float64(l.B), Under: c}
}
