package page

import (
	"errors"
	"strings"

	"masstone/color/legible"
	"masstone/color/remedy"
	"masstone/recipes/workbench"
)

// worded is an error in lines, inputs and verbs named as pages name them.
func worded(err error) []string { return onPage{}.worded(err) }

// worded is an error in lines, as a form with labels of its own names inputs.
func (o onPage) worded(err error) []string {
	text := err.Error()
	var typed *faults
	if errors.As(err, &typed) {
		text = typed.told(o)
	}
	var out []string
	for line := range strings.SplitSeq(strings.TrimSpace(o.saying(text)), "\n") {
		out = append(out, upperFirst(line))
	}
	return out
}

// saying words the marks of a text for a page.
func saying(text string) string { return onPage{}.saying(text) }

func (o onPage) saying(text string) string {
	lines := strings.Split(remedy.Word(text, o), "\n")
	for i, l := range lines {
		lines[i] = legible.Text(l)
	}
	return strings.Join(lines, "\n")
}

// remarks are what a verb has to say beside its result.
func remarks(all workbench.Remarks) []string {
	var out []string
	for _, r := range all {
		text := saying(r.Text)
		if r.Warning {
			text = "Warning: " + text
		}
		out = append(out, upperFirst(text))
	}
	return out
}

// onPage words marks for pages: inputs are fields, verbs the pages that do them.
type onPage struct{ labels map[string]string } // of the form at hand

func (o onPage) Input(name, value string) string {
	label := o.labelled(name)
	switch value {
	case "":
		return label
	case "true":
		return label + " ticked"
	case "false":
		return label + " not ticked"
	}
	return label + " " + value
}

// labelled names an input as the form at hand does.
func (o onPage) labelled(name string) string {
	if label, is := o.labels[name]; is {
		return "“" + label + "”"
	}
	return labelled(name)
}

func (o onPage) Verb(words []string) string {
	for n := min(2, len(words)); n > 0; n-- {
		name := strings.Join(words[:n], " ")
		if n == 1 {
			name = words[0]
		}
		if page, is := places[name]; is {
			if rest := strings.Join(words[n:], " "); rest != "" && !strings.Contains(rest, "FILE") && !strings.Contains(rest, "NAME") {
				return "the page " + page + " (" + rest + ")"
			}
			return "the page " + page
		}
	}
	return "masstone " + strings.Join(words, " ") + " at a terminal"
}

// places are the pages that do what a verb does.
var places = map[string]string{
	"resin add": "Shelf", "resin list": "Shelf", "resin": "Shelf", "pigment import": "Shelf", "pigment list": "Shelf", "pigment": "Shelf",
	"backing add": "Shelf", "backing list": "Shelf", "backing": "Shelf", "lot add": "Shelf", "lot open": "Shelf", "lot list": "Shelf", "lot": "Shelf",
	"plan start": "Plan", "plan next": "Plan", "chip import": "Chips", "chip list": "Chips", "chip withdraw": "Chips", "reading add": "Chips", "reading check": "Chips",
	"fit": "Calibration", "target add": "Targets", "target list": "Targets", "target show": "Targets", "match": "Match", "predict": "Mix",
	"batch": "Batch", "recipe add": "Mix", "recipe list": "Archive", "recipe show": "Archive", "pour add": "Batch", "pour read": "Pours", "pour list": "Pours", "pour show": "Pours", "correct": "Pours",
	"approve": "Pours", "approval show": "Archive", "approval list": "Archive", "approval links": "Links of clients", "reorder": "Archive", "find": "Archive", "certificate": "Pours", "log": "Log", "open": "Open",
	"scale add": "Shelf", "scale list": "Shelf", "scale use": "Shelf", "scale": "Shelf", "instrument add": "Shelf", "instrument list": "Shelf", "instrument use": "Shelf", "instrument": "Shelf",
	"plan list": "Plan", "plan show": "Plan", "run start": "Runs", "run list": "Runs", "run show": "Runs", "run pour": "Runs", "run certificate": "Runs", "stock dilute": "Jars and pails", "stock list": "Jars and pails", "stock show": "Jars and pails",
}

// labels name inputs where a form does not.
var labels = map[string]string{
	"grams": "Whole batch", "cavity-ml": "Volume of one part", "shots": "Parts", "waste": "Lost to cup, sprue and stick", "scale": "Step of the scale",
	"illuminant": "Light and observer", "observer": "Light and observer", "lab": "Reading", "over": "Backing", "thickness": "Thickness", "resin": "Resin", "client": "Client",
	"replace": "Replace what is there", "again": "It is meant once more", "phr": "Loadings", "bare": "Bare resin, no pigment", "chip-grams": "Mixed resin in the cup",
	"tolerance": "Tolerance", "formula": "Formula of the tolerance", "limits": "Limits per axis", "mix": "Mix A:B by mass", "max-pigments": "Most pigments in a recipe",
	"require": "Every recipe holds", "allow": "A recipe may hold", "forbid": "No recipe holds", "max-phr": "Most of single pigments", "total-phr": "Most paste in all",
	"leave-out": "Leave out", "file": "File", "row": "Row of the file", "pot-grams": "Left in the pot", "pot-side": "The pot holds", "anyway": "Match a colour that reads as fluorescent, metallic or pearl", "companion": "A chip from its cup was read", "code": "Code", "reflectance": "Reflectance factor",
	"pot-life": "Pot life", "pigment-side": "Side that takes the pigments", "density-a": "Density of side A", "density-b": "Density of side B", "room": "Room",
	"geometry": "Geometry", "specular": "Specular reflection", "poured": "What the scale showed", "weighed": "What the scale showed", "min-weigh": "Least line worth weighing",
	"min-opacity": "Least opacity", "max-cost": "Most cost per kg", "count": "How many", "whites": "Whites", "parts": "Parts", "risk": "Largest chance of being wrong", "paste-g": "Paste", "side-g": "Stirred into", "days": "Days it is valid", "step": "Smallest change it shows", "max": "Most it carries", "sd": "Scatter of one weighing", "aperture-mm": "Aperture, its diameter", "thickness-sd-mm": "How far the thickness may miss", "repeatability": "Scatter of one reading", "m-condition": "Measurement condition", "instrument": "Instrument", "again-pour": "It is meant once more",
}

// labelled names an input.
func labelled(name string) string {
	base, item, _ := strings.Cut(name, ".")
	if item != "" {
		name = item
	} else if label, is := labels[base]; is {
		name = label
	}
	return "“" + name + "”"
}

// upperFirst begins a sentence with a capital letter, unless it begins with a name
// such as that of a file.
func upperFirst(s string) string {
	first, _, _ := strings.Cut(s, " ")
	for _, r := range strings.TrimRight(first, ",;:") {
		if r < 'a' || r > 'z' {
			return s
		}
	}
	if first == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
