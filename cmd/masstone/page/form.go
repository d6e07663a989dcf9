package page

import (
	"errors"
	"slices"
	"strings"
	"unicode/utf8"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

// A form is what a page asks for.
type form struct {
	Title  string // of the page on which it stands alone
	Action string // path
	Button string
	Fields []field
	Key    string // by which it counts once
	Get    bool   // it only looks
	File   bool   // it has a file
	Lines  []string
	Error  bool // Lines are what is wrong
	Plain  bool // a button and no more
}

// A kind of field.
type kind string

const (
	textField   kind = "text"
	numberField kind = "number"
	wholeField  kind = "whole"
	areaField   kind = "area"
	choiceField kind = "choice"
	tickField   kind = "tick"
	fileField   kind = "file"
	dayField    kind = "day"
	hiddenField kind = "hidden"
	codeField   kind = "password"
)

// A field is one input of a form. Its name is that of the verb's input, so that
// what the verb says about it finds it.
type field struct {
	Name, Label, Unit, Help, Value string
	Kind                           kind
	Choices                        []choice
	Need                           bool // must be filled in
	More                           bool // seldom needed, folded away
	Fault                          string
	Now                            string // what the bench says meanwhile
}

// Long tells whether what can be chosen needs more room than a number.
func (x field) Long() bool {
	return slices.ContainsFunc(x.Choices, func(c choice) bool { return utf8.RuneCountInString(c.Label) > 18 })
}

type choice struct {
	Value, Label string
}

// Slug begins the names of its fields in a page.
func (f form) Slug() string {
	return strings.Trim(strings.ReplaceAll(f.Action, "/", "-"), "-") + "-" + f.Key[:min(6, len(f.Key))]
}

// Folded are the fields that are seldom needed, Open the others.
func (f form) Folded() []field { return f.with(true) }

// Open are the fields that are shown at once.
func (f form) Open() []field { return f.with(false) }

func (f form) with(more bool) []field {
	var out []field
	for _, x := range f.Fields {
		if (x.More && x.Kind != hiddenField) == more {
			out = append(out, x)
		}
	}
	return out
}

// Only tells whether the form leaves nothing to choose.
func (f form) Only() bool {
	return len(f.Fields) == 1 && f.Fields[0].Kind == choiceField && len(f.Fields[0].Choices) < 2
}

// Unfolded tells whether a folded field is at fault.
func (f form) Unfolded() bool {
	return slices.ContainsFunc(f.Folded(), func(x field) bool { return x.Fault != "" || x.Now != "" })
}

// newForm is a form with a key of its own.
func newForm(title, action, button string, fields ...field) form {
	f := form{Title: title, Action: action, Button: button, Fields: fields, Key: key()}
	f.File = slices.ContainsFunc(fields, func(x field) bool { return x.Kind == fileField })
	return f
}

// looking is a form that only looks.
func looking(title, action, button string, fields ...field) form {
	f := newForm(title, action, button, fields...)
	f.Get, f.Key = true, ""
	return f
}

// button is a form of a button alone.
func button(action, text string, hidden ...field) form {
	f := newForm(text, action, text, hidden...)
	f.Plain = true
	return f
}

func hidden(name, value string) field {
	return field{Name: name, Value: value, Kind: hiddenField}
}

// number is a field with a number, 0 left empty.
func number[V ~float64](name, label, unit string, v V) field {
	f := field{Name: name, Label: label, Unit: unit, Kind: numberField}
	if v != 0 {
		f.Value = figure.Short(float64(v))
	}
	return f
}

func known(v *figure.Number) figure.Number {
	if v == nil {
		return 0
	}
	return *v
}

func text(name, label, value string) field {
	return field{Name: name, Label: label, Value: value, Kind: textField}
}

func (f field) needed() field           { f.Need = true; return f }
func (f field) more() field             { f.More = true; return f }
func (f field) help(text string) field  { f.Help = text; return f }
func (f field) value(text string) field { f.Value = text; return f }
func tick(name, label string) field     { return field{Name: name, Label: label, Kind: tickField} }
func pick(name, label, value string, of ...choice) field {
	return field{Name: name, Label: label, Value: value, Kind: choiceField, Choices: of}
}

// listed writes values by name as a field takes them, CODE=VALUE,...; nothing for none.
func listed[V ~float64](of map[string]V) string {
	if len(of) == 0 {
		return ""
	}
	return figure.LoadingsAs(of, "=", ",")
}

// sayings are choices that are their own labels.
func sayings(values ...string) []choice {
	var out []choice
	for _, v := range values {
		out = append(out, choice{v, v})
	}
	return out
}

// lights are those a reading may be under, as suggestions.
func illuminant(value string) field {
	return text("illuminant", "Light and observer", value).help("such as D65/10")
}

// retyped fills in what was typed; where the bench says something else since the
// form was shown, both stand there.
func (f *form) retyped(q *ask) {
	for i := range f.Fields {
		x := &f.Fields[i]
		switch values := q.Form[x.Name]; {
		case x.Name == "seen" || x.Kind == fileField || x.Kind == codeField:
		case x.Kind == tickField:
			x.Value = q.Form.Get(x.Name)
		case len(values) == 0:
		case x.Name == "lab":
			x.Value = nth(values, f.count(i))
		default:
			if now := x.Value; x.Kind != hiddenField && x.Name != "illuminant" && q.tick("seen") && now != values[0] {
				x.Now = now
				if now == "" {
					x.Now = "nothing"
				}
			}
			x.Value = values[0]
		}
	}
}

// count is how many fields of the same name stand before one.
func (f *form) count(i int) (n int) {
	for _, x := range f.Fields[:i] {
		if x.Name == f.Fields[i].Name {
			n++
		}
	}
	return n
}

func nth(values []string, n int) string {
	if n < len(values) {
		return values[n]
	}
	return ""
}

// refused says in a form why it was refused, at its fields where that is known.
func (f *form) refused(q *ask, err error) {
	f.Error = true
	var typed *faults
	var verb *workbench.Error
	switch {
	case errors.As(err, &typed):
		for i, x := range f.Fields {
			if what, is := typed.what[x.Name]; is {
				f.Fields[i].Fault = what
			}
		}
	case errors.As(err, &verb):
		for i, x := range f.Fields {
			if x.Name == verb.Field && x.Kind != hiddenField && f.count(i) == 0 {
				f.Fields[i].Fault = "see above"
			}
		}
	}
	words := onPage{map[string]string{}}
	for i, x := range f.Fields {
		if x.Label != "" && f.count(i) == 0 {
			words.labels[x.Name] = x.Label
		}
	}
	f.Lines = words.worded(err)
	if workbench.KindOf(err) == workbench.Conflict {
		f.Button += " all the same"
	} else {
		for i := range f.Fields { // nothing was changed by others
			f.Fields[i].Now = ""
		}
	}
	has := func(name string) bool {
		return slices.ContainsFunc(f.Fields, func(x field) bool { return x.Name == name })
	}
	if workbench.KindOf(err) == workbench.Repeated && !has("again") {
		f.Fields = append(f.Fields, tick("again", "It is meant once more"))
	}
}

// pigmentFields is a field of loading for every pigment of a shelf.
func pigmentFields(all []workbench.Pigment, loadings map[string]figure.Number) []field {
	var out []field
	for _, p := range all {
		f := number("phr."+p.Code, p.Code, "phr", loadings[p.Code])
		f.Help = p.Name
		out = append(out, f)
	}
	return out
}

func plural(n int, noun string) string { return figure.Count(n, noun) }
