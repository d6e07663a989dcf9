package page

import (
	"fmt"
	"strings"

	"masstone/calibrate"
	"masstone/cmd/masstone/typed"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func scaleForm(e workbench.Equipment) form {
	return newForm("Scale "+e.Name, "/shelf/scale", "Store the scale",
		text("name", "Name", e.Name).needed().help("such as bench"),
		number("step", "Smallest change it shows", "g", known(e.StepGrams)).needed().help("such as 0.01"),
		number("max", "Most it carries", "g", known(e.MaxGrams)),
		number("sd", "Scatter of one weighing", "g", known(e.SDGrams)).help("standard deviation of the same mass put on ten times").more(),
		tick("use", "It is in use from now on"), tick("replace", "Replace what is there").more(), text("note", "Note", e.Note).more(), hidden("seen", e.Ref))
}

func instrumentForm(e workbench.Equipment) form {
	under := ""
	if e.Illuminant != "" {
		under = fmt.Sprintf("%s/%d", e.Illuminant, e.Observer)
	}
	return newForm("Instrument "+e.Name, "/shelf/instrument", "Store the instrument",
		text("name", "Name", e.Name).needed().help("such as sphere"),
		illuminant(under).help("of the Lab it shows, such as D65/10"),
		pick("geometry", "Geometry", e.Geometry, choice{"", "not said"}, choice{"d/8", "d/8"}, choice{"45/0", "45/0"}),
		pick("specular", "Specular reflection", e.Specular, choice{"", "not said"}, choice{"included", "included"}, choice{"excluded", "excluded"}),
		number("aperture-mm", "Aperture, its diameter", "mm", known(e.ApertureMM)),
		number("repeatability", "Scatter of one reading", "", known(e.RepeatSD)).help("standard deviation in each of L*, a*, b*, of one spot read ten times").more(),
		text("m-condition", "Measurement condition", e.MCondition).help("M0 to M3 of ISO 13655").more(),
		tick("use", "It is in use from now on"), tick("replace", "Replace what is there").more(), text("note", "Note", e.Note).more(), hidden("seen", e.Ref))
}

// equipmentNow is the form of a scale or an instrument as the bench has it; empty for
// a new one, which a form that was made from no card is for.
func equipmentNow(item string, of func(workbench.Equipment) form) func(*ask) (form, error) {
	return func(q *ask) (form, error) {
		all, err := workbench.AllEquipment(q.Context(), q.bench, item)
		for _, e := range all.Equipment {
			if e.Name == q.text("name") && (q.Method != "POST" || q.text("seen") != "" || q.tick("replace")) {
				return of(e), err
			}
		}
		return of(workbench.Equipment{}), err
	}
}

func (s *Server) equipmentPages() {
	for item, of := range map[string]func(workbench.Equipment) form{archive.Scale: scaleForm, archive.Instrument: instrumentForm} {
		now := equipmentNow(item, of)
		s.get("/"+item, func(q *ask) (view, error) {
			f, err := now(q)
			return view{"alone", upperFirst(item) + " " + q.text("name"), f}, err
		})
		s.post("/shelf/"+item, action{now, func(q *ask) (string, error) {
			add := q.addScale
			if item == archive.Instrument {
				add = q.addInstrument
			}
			return "/shelf", add()
		}})
	}
	s.post("/shelf/equipment/use", action{nil, func(q *ask) (string, error) {
		_, err := workbench.UseEquipment(q.Context(), q.bench, q.text("item"), q.text("name"))
		return "/shelf", err
	}})
}

func (q *ask) addScale() error {
	r := workbench.AddScaleRequest{Name: q.text("name"), StepGrams: q.grams("step"), MaxGrams: q.grams("max"), SDGrams: q.grams("sd"),
		Use: q.tick("use"), Note: q.text("note"), Replace: q.tick("replace") || q.text("seen") != "", Seen: q.text("seen")}
	if err := q.fault(); err != nil {
		return err
	}
	_, err := workbench.AddScale(q.Context(), q.bench, r)
	return err
}

func (q *ask) addInstrument() error {
	r := workbench.AddInstrumentRequest{Name: q.text("name"), Measurement: q.measured(), Condition: q.condition(), ApertureMM: q.number("aperture-mm", typed.MM),
		MCondition: strings.ToUpper(q.text("m-condition")), RepeatSD: q.number("repeatability", typed.DE), Use: q.tick("use"), Note: q.text("note"), Replace: q.tick("replace") || q.text("seen") != "", Seen: q.text("seen")}
	if err := q.fault(); err != nil {
		return err
	}
	_, err := workbench.AddInstrument(q.Context(), q.bench, r)
	return err
}

// inUse is the scale or the instrument in use, one of no name where there is none.
func (q *ask) inUse(item string) workbench.Equipment {
	all, err := workbench.AllEquipment(q.Context(), q.bench, item)
	if err != nil || len(all.Equipment) == 0 || !all.Equipment[0].InUse {
		return workbench.Equipment{}
	}
	return all.Equipment[0]
}

// scaleField asks for a scale; where nothing is typed the verb goes by the one in use.
func (q *ask) scaleField() field {
	f := number("scale", "Step of the scale", "g", 0.0).help("such as 0.01, which is taken if empty")
	all, err := workbench.AllEquipment(q.Context(), q.bench, archive.Scale)
	if err != nil || len(all.Equipment) == 0 {
		return f
	}
	var names []string
	for _, e := range all.Equipment {
		names = append(names, fmt.Sprintf("%s (%s g)", e.Name, figure.Short(float64(known(e.StepGrams)))))
	}
	f.Label, f.Unit, f.Kind, f.Help = "Scale, or its step in g", "", textField, names[0]+", if empty"
	if len(names) > 1 {
		f.Help += "; or " + strings.Join(names[1:], ", ")
	}
	return f
}

// chipScale asks for the scale of a chip, whose loading counts as exact where none is
// known: the usual step stands there then.
func (q *ask) chipScale() field {
	if f := q.scaleField(); f.Kind == textField {
		return f
	}
	return number("scale", "Step of the scale", "g", 0.01)
}

// scale reads what a form says of the scale.
func (q *ask) scale() (workbench.ScaleChoice, calibrate.Grams) {
	text := q.text("scale")
	if text == "" {
		return workbench.ScaleChoice{}, 0
	}
	name, grams, err := typed.Scale(text)
	if err != nil {
		q.blame("scale", err)
	}
	return workbench.ScaleChoice{Scale: name}, calibrate.Grams(grams)
}

// instrumentFields ask under which light typed readings are, and where the bench has
// instruments by which they were taken: what is left open is that of the one in use,
// and the usual light stands there where that says none.
func (q *ask) instrumentFields(usual string) []field {
	under := illuminant(usual).needed()
	all, err := workbench.AllEquipment(q.Context(), q.bench, archive.Instrument)
	if err != nil || len(all.Equipment) == 0 {
		return []field{under}
	}
	by := pick("instrument", "Instrument", "")
	for _, e := range all.Equipment {
		if !e.InUse {
			by.Choices = append(by.Choices, choice{e.Name, e.Name})
			continue
		}
		by.Choices = append(by.Choices, choice{"", e.Name + ", in use"})
		if e.Illuminant != "" {
			under = illuminant("").help(fmt.Sprintf("%s/%d, as %s shows it, if empty", e.Illuminant, e.Observer, e.Name))
		}
	}
	return []field{under, by}
}
