package archive

import (
	"fmt"
	"strings"
)

// alike holds conflicts of cards of one kind, those in the same fields together.
type alike [][]*conflict

func (a *alike) add(e *conflict) {
	for i, group := range *a {
		if group[0].fields == e.fields {
			(*a)[i] = append(group, e)
			return
		}
	}
	*a = append(*a, []*conflict{e})
}

// fewNamed is how many cards a line names of those that conflict in the same fields.
const fewNamed = 3

// errors returns one error per group: chips "A", "B", "C" and 25 more of "CLR": each ...
func (a alike) errors() (out []error) {
	for _, group := range a {
		if len(group) == 1 {
			out = append(out, group[0])
			continue
		}
		var named []string
		for _, e := range group[:min(len(group), fewNamed)] {
			named = append(named, fmt.Sprintf("%q", e.name[len(e.name)-1]))
		}
		text := strings.Join(named, ", ")
		if more := len(group) - len(named); more > 0 {
			text += fmt.Sprintf(" and %d more", more)
		}
		if name := group[0].name; len(name) > 1 {
			text += fmt.Sprintf(" of %q", name[len(name)-2])
		}
		out = append(out, fmt.Errorf("%ss %s: each %w (%s)", group[0].kind.name, text, ErrConflict, group[0].fields))
	}
	return out
}
