package page

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"strings"

	"masstone/calibrate"
	"masstone/cmd/masstone/typed"
	"masstone/color/readings"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

// sides are the two liquids of a resin.
var sides = []choice{{"A", "side A"}, {"B", "side B"}}

func resinForm(r workbench.Resin) form {
	f := newForm("Resin "+r.Code, "/shelf/resin", "Store the resin",
		text("code", "Code", r.Code).needed().help("such as CLR"),
		text("name", "Name", r.Name),
		text("mix", "Mix A:B by mass", r.Mix).needed().help("such as 100:90"),
		pick("pigment-side", "Side that takes the pigments", r.PigmentSide, sides...),
		text("pot-life", "Pot life", "").help("such as 7m"),
		number("density-a", "Density of side A", "g/ml", known(r.DensityA)),
		number("density-b", "Density of side B", "g/ml", known(r.DensityB)),
		number("max-phr", "Most paste in all", "phr", known(r.MaxPHR)),
		number("density-cured", "Density cured", "g/ml", known(r.DensityCured)).more(),
		text("note", "Note", r.Note).more(),
		hidden("seen", r.Ref))
	if r.PotLife > 0 {
		f.Fields[4].Value = figure.Duration(r.PotLife)
	}
	return f
}

func backingForm(k workbench.Backing) form {
	f := newForm("Backing "+k.Name, "/shelf/backing", "Store the backing",
		text("name", "Name", k.Name).needed().help("such as white"),
		number("reflectance", "Reflectance factor", "", known(k.Reflectance)).help("0 to 1, or a percentage; or read it below"),
		field{Name: "lab", Label: "Reading L,a,b of a grey", Kind: textField, Help: "such as 95.1,-0.4,1.2"}.more(),
		illuminant("").more(),
		tick("dry", "Pieces lie on it across a gap of air").more(),
		tick("replace", "Replace what is there").more(),
		hidden("seen", k.Ref))
	return f
}

// pigmentColumns are the fields of a pigment's card, by the column of a list.
func pigmentForm(p workbench.Pigment) form {
	return newForm("Pigment "+p.Code, "/shelf/pigment", "Store the pigment",
		text("code", "Code", p.Code).needed().help("such as WH"),
		text("name", "Name", p.Name),
		text("ci_name", "Colour Index name", p.CIName).help("such as PW6"),
		number("density", "Density", "g/ml", known(p.Density)),
		number("max_phr", "Most of it", "phr", known(p.MaxPHR)),
		number("price_per_kg", "Price", "per kg", known(p.PricePerKG)),
		number("stock_g", "On the shelf", "g", known(p.StockG)),
		text("heat_class", "Heat fastness class", p.HeatClass).more(),
		text("light_class", "Light fastness class", p.LightClass).more(),
		text("note", "Note", p.Note).more(),
		hidden("seen", p.Ref))
}

func lotForm(l workbench.Lot) form {
	return newForm("Lot", "/shelf/lot", "Store the lot",
		text("code", "Pigment or resin", l.Code).needed(), text("lot", "Lot", l.Lot).needed().help("as its label names it"),
		number("grams", "Delivered", "g", known(l.Grams)), field{Name: "received", Label: "Received", Kind: dayField, Value: l.Received},
		tick("open", "It is in use from now on"), tick("replace", "Replace what is there").more(), text("note", "Note", l.Note).more(), hidden("seen", l.Ref))
}

// lotNow is the form of a lot as the bench has it, empty for a new one.
func (q *ask) lotNow() (form, error) {
	all, err := workbench.Lots(q.Context(), q.bench, "")
	for _, l := range all.Lots {
		if l.Code == q.text("code") && l.Lot == q.text("lot") {
			return lotForm(l), err
		}
	}
	return lotForm(workbench.Lot{Code: q.text("code")}), err
}

func (s *Server) shelfPages() {
	s.get("/shelf", func(q *ask) (view, error) {
		var v struct {
			Resins                          []workbench.Resin
			Pigments                        []workbench.Pigment
			Backings                        []workbench.Backing
			Lots                            []workbench.Lot
			Resin, Pigment, List, Rear, Lot form
			Equipment                       []workbench.Equipment
			Scale, Instrument               form
		}
		resins, err := workbench.Resins(q.Context(), q.bench)
		if err != nil {
			return view{}, err
		}
		pigments, err := workbench.Pigments(q.Context(), q.bench)
		if err != nil {
			return view{}, err
		}
		backings, err := workbench.Backings(q.Context(), q.bench)
		if err != nil {
			return view{}, err
		}
		lots, err := workbench.Lots(q.Context(), q.bench, "")
		v.Resins, v.Pigments, v.Backings, v.Lots = resins.Resins, pigments.Pigments, backings.Backings, lots.Lots
		v.Resin, v.Pigment, v.Rear, v.Lot = resinForm(workbench.Resin{PigmentSide: "B"}), pigmentForm(workbench.Pigment{}), backingForm(workbench.Backing{}), lotForm(workbench.Lot{})
		v.List = pigmentListForm()
		v.Scale, v.Instrument = scaleForm(workbench.Equipment{}), instrumentForm(workbench.Equipment{})
		for _, item := range []string{archive.Scale, archive.Instrument} {
			all, err := workbench.AllEquipment(q.Context(), q.bench, item)
			if err != nil {
				return view{}, err
			}
			v.Equipment = append(v.Equipment, all.Equipment...)
		}
		return view{"shelf", "Shelf", v}, err
	})
	s.get("/resin", func(q *ask) (view, error) {
		f, err := q.resinNow()
		return view{"alone", "Resin " + q.text("code"), f}, err
	})
	s.get("/pigment", func(q *ask) (view, error) {
		f, err := q.pigmentNow()
		return view{"alone", "Pigment " + q.text("code"), f}, err
	})
	s.get("/backing", func(q *ask) (view, error) {
		f, err := q.backingNow()
		return view{"alone", "Backing " + q.text("name"), f}, err
	})
	s.post("/shelf/resin", action{(*ask).resinNow, func(q *ask) (string, error) {
		r := workbench.AddResinRequest{Code: q.text("code"), Name: q.text("name"), Mix: read(q, "mix", batch.ParseRatio),
			AGramsPerML: q.number("density-a", typed.PerML), BGramsPerML: q.number("density-b", typed.PerML), CuredGramsPerML: q.number("density-cured", typed.PerML),
			PotLife: q.minutes("pot-life"), PigmentSide: read(q, "pigment-side", batch.ParseSide), MaxPHR: calibrate.PHR(q.number("max-phr", typed.PHR)),
			Note: q.text("note"), Seen: q.text("seen"), Replace: q.text("seen") != ""}
		if err := q.fault(); err != nil {
			return "", err
		}
		_, err := workbench.AddResin(q.Context(), q.bench, r)
		return "/shelf", err
	}})
	s.post("/shelf/pigment", action{(*ask).pigmentNow, func(q *ask) (string, error) {
		list, err := q.pigmentList()
		if err != nil {
			return "", err
		}
		r := workbench.ImportPigmentsRequest{File: workbench.File{Name: "the form", Data: bytes.NewReader(list)}}
		if seen := q.text("seen"); seen != "" {
			r.Seen = map[string]string{q.text("code"): seen}
		}
		_, err = workbench.ImportPigments(q.Context(), q.bench, r)
		var rows *readings.Errors
		if errors.As(err, &rows) { // a list of one line, whose columns are the fields
			for _, wrong := range rows.Rows {
				if wrong.Column != "" {
					q.blame(wrong.Column, fmt.Errorf("does not do: %s; %s", wrong.Problem, wrong.Hint))
				}
			}
			err = cmp.Or(q.fault(), err)
		}
		return "/shelf", err
	}})
	s.post("/shelf/pigments", action{func(*ask) (form, error) { return pigmentListForm(), nil }, func(q *ask) (string, error) {
		u, err := q.upload("file")
		if err == nil && u == nil {
			err = q.missing("file", "choose a file of pigments")
		}
		if err != nil {
			return "", err
		}
		_, err = workbench.ImportPigments(q.Context(), q.bench, workbench.ImportPigmentsRequest{File: workbench.File{Name: u.Name, Data: bytes.NewReader(u.Data)}})
		return "/shelf", err
	}})
	s.post("/shelf/backing", action{(*ask).backingNow, func(q *ask) (string, error) {
		r := workbench.AddBackingRequest{Name: q.text("name"), Dry: q.tick("dry"), Seen: q.text("seen"), Replace: q.text("seen") != "" || q.tick("replace"),
			Readings: workbench.Readings{Typed: q.labs(), Condition: q.condition()}}
		if q.text("reflectance") != "" {
			v := q.number("reflectance", typed.Factor)
			r.Reflectance = &v
		}
		if err := q.fault(); err != nil {
			return "", err
		}
		_, err := workbench.AddBacking(q.Context(), q.bench, r)
		return "/shelf", err
	}})
	s.post("/shelf/lot", action{(*ask).lotNow, func(q *ask) (string, error) {
		r := workbench.AddLotRequest{Code: q.text("code"), Lot: q.text("lot"), Received: q.text("received"), Grams: q.grams("grams"), Note: q.text("note"), Open: q.tick("open"), Replace: q.tick("replace"), Seen: q.text("seen")}
		if err := q.fault(); err != nil {
			return "", err
		}
		_, err := workbench.AddLot(q.Context(), q.bench, r)
		return "/shelf", err
	}})
	s.post("/shelf/lot/open", action{nil, func(q *ask) (string, error) {
		_, err := workbench.OpenLot(q.Context(), q.bench, workbench.OpenLotRequest{Code: q.text("code"), Lot: q.text("lot")})
		return "/shelf", err
	}})
}

// missing is a field that must be filled in.
func (q *ask) missing(name, what string) error {
	q.blame(name, errors.New("is missing; "+what))
	return q.fault()
}

func pigmentListForm() form {
	return newForm("Pigment list", "/shelf/pigments", "Take in the list",
		field{Name: "file", Label: "Pigment list (CSV, XLSX, ODS)", Kind: fileField, Need: true})
}

// resinNow is the form of a resin as the bench has it, empty for a new one.
func (q *ask) resinNow() (form, error) {
	r, err := workbench.ShowResin(q.Context(), q.bench, q.text("code"))
	if workbench.KindOf(err) == workbench.NotFound || q.Method == "POST" && q.text("seen") == "" {
		return resinForm(workbench.Resin{PigmentSide: "B"}), nil
	}
	return resinForm(r), err
}

func (q *ask) pigmentNow() (form, error) {
	p, err := workbench.ShowPigment(q.Context(), q.bench, q.text("code"))
	if workbench.KindOf(err) == workbench.NotFound || q.Method == "POST" && q.text("seen") == "" {
		return pigmentForm(workbench.Pigment{}), nil
	}
	return pigmentForm(p), err
}

func (q *ask) backingNow() (form, error) {
	all, err := workbench.Backings(q.Context(), q.bench)
	for _, k := range all.Backings {
		if k.Name == q.text("name") && (q.Method != "POST" || q.text("seen") != "") {
			return backingForm(k), err
		}
	}
	return backingForm(workbench.Backing{}), err
}

// pigmentList is a list of the one pigment that a form describes, of the columns
// that are filled in.
func (q *ask) pigmentList() ([]byte, error) {
	if q.text("code") == "" {
		return nil, q.missing("code", "give a short one, such as WH")
	}
	var heads, cells []string
	for _, f := range pigmentForm(workbench.Pigment{}).Fields {
		value := q.text(f.Name)
		if f.Kind == hiddenField || value == "" {
			continue
		}
		if f.Kind == numberField {
			if strings.Contains(value, ",") {
				q.blame(f.Name, errors.New("has a comma; write a decimal point"))
			}
		}
		heads, cells = append(heads, f.Name), append(cells, value)
	}
	if err := q.fault(); err != nil {
		return nil, err
	}
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	err := w.WriteAll([][]string{heads, cells})
	return out.Bytes(), err
}

// backings are choices of what lies behind a piece.
func (q *ask) backings(usual string) field {
	all, err := workbench.Backings(q.Context(), q.bench)
	f := pick("over", "Backing", usual)
	if err != nil {
		return f
	}
	for _, k := range all.Backings {
		f.Choices = append(f.Choices, choice{k.Name, k.Name})
	}
	return f
}

// resins are choices of a resin, the only one or the one asked for first.
func (q *ask) resins() (field, string, error) {
	all, err := workbench.Resins(q.Context(), q.bench)
	f := pick("resin", "Resin", q.text("resin"))
	for _, r := range all.Resins {
		f.Choices = append(f.Choices, choice{r.Code, strings.TrimSpace(r.Code + " " + r.Name)})
	}
	if f.Value == "" && len(all.Resins) > 0 {
		f.Value = all.Resins[0].Code
	}
	return f, f.Value, err
}
