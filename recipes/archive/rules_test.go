package archive

import (
	"bytes"
	"encoding/json"
	"fmt"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a field holds, and by that what it must not hold.
const (
	free   = "free"   // text for people, or a number that only this bench gives
	opaque = "opaque" // a document of the program
	truth  = "truth"
	amount = "amount" // 0 for unknown, or above
	must   = "must"   // an amount above 0
	share  = "share"  // 0 to 1
	part   = "part"   // above 0 and below 1
	signed = "signed"
	name   = "name"   // not empty
	ref    = "ref"    // of a record, "" for none
	mref   = "mref"   // of a record
	choice = "choice" // one of a few words
	day    = "day"
	some   = "some"   // a list that is not empty
	any0   = "any"    // a list or map that may be empty
	wave   = "wave"   // nm, above 0
	code   = "code"   // a key of a map: names a record
	number = "number" // 1 and up, counted
)

// fields says it of every field of every kind of record; common practice, no
// source.
var fields = map[string]map[string]string{
	"resin": {"code": name, "name": free, "mix_a": must, "mix_b": must, "density_a": amount, "density_b": amount, "density_cured": amount,
		"pot_life_ns": amount, "pigment_side": choice, "max_phr": amount, "note": free},
	"pigment": {"code": name, "ci_name": free, "name": free, "density": amount, "max_phr": amount, "price_per_kg": amount, "stock_g": amount,
		"heat_class": free, "light_class": free, "note": free},
	"lot":        {"item": choice, "code": mref, "name": name, "received": day, "grams": amount, "note": free},
	"lot opened": {"item": choice, "code": mref, "lot": mref},
	"lot strength": {"item": choice, "code": mref, "lot": mref, "ln_strength": signed, "sd": amount,
		"calibration": free, "evidence": any0, "evidence[]": free}, // of another bench, maybe
	"backing": readingFields("spectrum", map[string]string{"name": name, "constant": amount, "spectrum": free, "source": free}),
	"chip": readingFields("readings[]", map[string]string{"resin": mref, "name": name, "loadings": code, "loadings{}": amount, "backing": mref, "thickness_mm": must,
		"chip_grams": amount, "scale_grams": amount, "paste_strength": any0, "paste_strength{}": share, "thickness_sd": amount, "casting": free,
		"lots": any0, "lots[]": free, "lots[].item": choice, "lots[].code": mref, "lots[].name": mref, "readings": some, "note": free, "withdrawn": free}),
	"calibration": {"no": free, "resin": mref, "layer": free, "chips": any0, "chips[]": mref, "pours": any0, "pours[]": free, "from": free, "document": opaque}, // these of another bench, maybe
	"client":      {"name": name, "note": free},
	"part":        {"client": mref, "name": name, "note": free},
	"target": readingFields("readings[]", map[string]string{"client": ref, "part": ref, "name": name, "readings": some, "thickness_mm": amount, "thickness_sd": amount, "flat_mm": amount, "backing": ref,
		"tolerance": amount, "formula": choice, "limits": any0, "limits{}": amount, "note": free}),
	"recipe": labFields("predicted[]", map[string]string{"no": free, "name": free, "resin": mref, "calibration": ref, "client": ref, "target": mref, "target_card": ref,
		"corrects": ref, "loadings": code, "loadings{}": amount, "thickness_mm": amount, "backing": free, "predicted": any0,
		"de00": amount, "expected_de00": amount, "upper95_de00": amount, "chance": share, "note": free, "document": opaque}),
	"stock": {"name": name, "resin": mref, "recipe": ref, "pigment": ref, "lots": any0, "lots[]": free, "lots[].item": choice, "lots[].code": mref, "lots[].name": mref,
		"made_on": day, "note": free},
	"batch": {"no": free, "recipe": mref, "adds_to": ref, "stock": ref, "total_grams": must, "scale_grams": amount, "lines": any0, "lines[]": free,
		"lines[].item": name, "lines[].grams": amount, "lots": any0, "lots[]": free, "lots[].item": choice, "lots[].code": mref, "lots[].name": mref,
		"note": free, "document": opaque},
	"pour": {"no": free, "batch": mref, "poured_on": day, "as_sheet": truth, "lines": any0, "lines[]": free, "lines[].item": name, "lines[].grams": amount,
		"lots": any0, "lots[]": free, "lots[].item": choice, "lots[].code": mref, "lots[].name": mref, "room_c": signed, "note": free},
	"pour reading": readingFields("readings[]", map[string]string{"no": free, "pour": mref, "read_on": day, "readings": some, "part": amount, "age_h": amount, "part_c": signed, "companion": free, "flat_mm": amount, "thickness_sd": amount, "withdraws": ref,
		"verdict": opaque, "note": free}),
	"approval": labFields("colors[]", map[string]string{"client": mref, "target": mref, "version": number, "target_card": mref, "recipe": mref, "pours": any0, "pours[]": mref,
		"colors": any0, "lots": any0, "lots[]": free, "lots[].item": choice, "lots[].code": mref, "lots[].name": mref, "by": name, "note": free}),
	"plan": {"no": free, "resin": mref, "calibration": ref, "for": any0, "for[]": free, "for[].client": ref, "for[].name": mref, "chip_grams": amount, "scale_grams": amount,
		"chips": some, "chips[]": free, "chips[].name": name, "chips[].loadings": code, "chips[].loadings{}": amount, "chips[].backing": mref, "chips[].thickness_mm": must,
		"document": opaque},
	"stock move": {"stock": mref, "kind": choice, "lines": some, "lines[]": free, "lines[].item": name, "lines[].grams": amount, "grams": must, "pour": ref, "note": free,
		"let_down": any0, "let_down[]": free, "let_down[].item": name, "let_down[].pigment": mref, "let_down[].side": choice, "let_down[].share": part},
	"mould": {"name": name, "client": ref, "part": ref, "cavities": number, "cavity_ml": amount, "thickness_sd": amount, "silicone": free, "cure": choice, "silicone_grams": amount,
		"silicone_lot": free, "release": free, "made_on": day, "shots_before": amount, "expected_shots": amount, "retired": free, "note": free},
	"equipment": {"item": choice, "name": name, "in_use": truth, "step_grams": amount, "max_grams": amount, "sd_grams": amount, "geometry": choice, "specular": choice,
		"aperture_mm": amount, "m_condition": choice, "illuminant": choice, "observer": amount, "repeat_sd": amount, "note": free},
	"run":         {"no": free, "approval": mref, "client": mref, "target": mref, "parts": number, "risk": share, "started_on": day, "note": free},
	"client link": {"hash": name, "approval": mref, "until": choice, "for": free, "closed": free},
	"run cup":     {"no": free, "run": mref, "pour": mref, "parts": number, "mould": ref, "mould_c": signed, "by": free, "note": free},
}

func labFields(at string, more map[string]string) map[string]string {
	for field, class := range map[string]string{"": free, ".L": amount, ".a": signed, ".b": signed, ".illuminant": choice, ".observer": must} {
		more[at+field] = class
	}
	return more
}

func readingFields(at string, more map[string]string) map[string]string {
	spectrum := at
	if at != "spectrum" {
		labFields(at+".lab", more)
		spectrum = at + ".spectrum"
		more[at], more[at+".geometry"], more[at+".specular"], more[at+".note"] = free, free, free, free
	}
	more[spectrum], more[spectrum+".first_nm"], more[spectrum+".step_nm"], more[spectrum+".r"], more[spectrum+".r[]"] = free, wave, wave, some, amount
	return more
}

// bad lists what a field of a class must not hold; nil deletes a list.
func bad(class string) []any {
	switch class {
	case amount:
		return []any{-1.0, 1e300}
	case must, wave, number:
		return []any{-1.0, 0.0, 1e300}
	case share:
		return []any{-0.5, 1.5}
	case part:
		return []any{-0.5, 0.0, 1.0}
	case signed:
		return []any{-1e300, 1e300}
	case name:
		return []any{"", " "}
	case ref:
		return []any{strings.Repeat("0", 64)}
	case mref:
		return []any{"", strings.Repeat("0", 64)}
	case choice, day:
		return []any{"nonsense"}
	case some:
		return []any{nil}
	case code:
		return []any{"ZZ"}
	}
	return nil
}

// A spot is a field of a record and a way to spoil it.
type spot struct {
	path string
	set  func(any)
}

// spots lists the fields of a value, by the names they have in documents.
func spots(v reflect.Value, path string) (all []spot) {
	join := func(name string) string { return strings.TrimPrefix(path+"."+name, ".") }
	switch {
	case v.Type() == reflect.TypeFor[json.RawMessage]():
		return []spot{{path, nil}}
	case v.Kind() == reflect.Pointer:
		if !v.IsNil() {
			return spots(v.Elem(), path)
		}
		return nil
	case v.Kind() == reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			tag, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			switch {
			case tag == "-":
			case f.Anonymous:
				all = append(all, spots(v.Field(i), path)...)
			default:
				all = append(all, spots(v.Field(i), join(tag))...)
			}
		}
		if path != "" {
			all = append(all, spot{path, nil})
		}
		return all
	case v.Kind() == reflect.Slice:
		all = append(all, spot{path, func(any) { v.Set(reflect.MakeSlice(v.Type(), 0, 0)) }})
		if v.Len() > 0 {
			all = append(all, spots(v.Index(0), path+"[]")...)
		}
		return all
	case v.Kind() == reflect.Map:
		all = append(all, spot{path, func(to any) { v.SetMapIndex(reflect.ValueOf(to), reflect.ValueOf(1.0)) }})
		for _, key := range v.MapKeys()[:min(1, v.Len())] {
			all = append(all, spot{path + "{}", func(to any) { v.SetMapIndex(key, reflect.ValueOf(to)) }})
		}
		return all
	}
	return []spot{{path, func(to any) {
		if to == 1e300 && v.CanInt() {
			to = int64(1 << 62)
		}
		v.Set(reflect.ValueOf(to).Convert(v.Type()))
	}}}
}

// richBench has every field of every kind of record filled in somewhere.
func richBench(t testing.TB) *Bench {
	t.Helper()
	b := fullBench(t)
	half, grams, room := 0.5, 250.0, 21.5
	r, err := b.Recipe(ctx(t), "R1")
	require.NoError(t, err)
	k, err := b.Calibration(ctx(t), "CLR", 0)
	require.NoError(t, err)
	spectrum := &Spectrum{400, 20, []float64{0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6}}
	both := reading(61, 39, 21)
	both.Spectrum = spectrum
	red := []LotName{{OfPigment, "RD", "4712"}}
	must := func(_ any, err error) {
		t.Helper()
		require.NoError(t, err)
	}
	must(b.PutResin(ctx(t), Resin{Code: "AMB", Name: "amber", MixA: 1, MixB: 1, DensityA: 1, DensityB: 1, DensityCured: 1, PotLife: time.Minute, PigmentSide: "A", MaxPHR: 5}, Refuse))
	must(b.PutPigment(ctx(t), Pigment{Code: "UB", Density: 1.5, MaxPHR: 2, PricePerKG: 9, StockG: &grams}, Refuse))
	must(b.PutBacking(ctx(t), Backing{Name: "grey", Constant: &half}, Refuse))
	must(b.PutBacking(ctx(t), Backing{Name: "tile", Spectrum: spectrum}, Refuse))
	must(b.ImportChips(ctx(t), "CLR", []Chip{{Name: "full", Loadings: map[string]float64{"RD": 1}, Backing: "grey", ThicknessMM: 3, ChipGrams: 50, ScaleGrams: 0.01,
		PasteStrength: map[string]float64{"RD": 0.1}, ThicknessSD: &half, Casting: "cup 1", Lots: red, Readings: []Reading{both}}}, Refuse))
	must(b.PutMould(ctx(t), Mould{Name: "M2", Cavities: 1, CavityML: 4.5, ThicknessSD: &half}, Refuse))
	must(b.PutTarget(ctx(t), Target{Client: "Tern Lighting", Part: "Harbour lamp", Name: "shade", Readings: []Reading{both}, Backing: "grey", ThicknessMM: 2, ThicknessSD: &half, Tolerance: 1,
		Formula: "CIEDE2000", Limits: map[string]float64{"L": 0.5}}, Refuse))
	must(b.SetLotStrength(ctx(t), LotStrength{Item: OfPigment, Code: "RD", Lot: "4711", LnStrength: 0.1, SD: 0.1, Calibration: k.Ref, Evidence: []string{k.Chips[0]}}))
	found, err := b.AddRecipes(ctx(t), Recipe{Resin: "CLR", Calibration: k.Ref, Client: r.Client, Target: r.Target, Corrects: r.Ref, Loadings: map[string]float64{"RD": 1},
		ThicknessMM: 3, Predicted: r.Predicted, DE00: 1, ExpectedDE00: 1, Upper95DE00: 1, Chance: 0.5, Document: []byte(`{}`)})
	require.NoError(t, err)
	made, err := b.AddBatch(ctx(t), Batch{Recipe: found[0].Ref, TotalGrams: 21, ScaleGrams: 0.01, Stock: "pail 1", Lines: []Line{{"B", 10}}, Lots: red, Document: []byte(`{}`)})
	require.NoError(t, err)
	pour, err := b.AddPour(ctx(t), Pour{Batch: made.Ref, RoomC: &room, PouredOn: "2026-03-30", Lots: red})
	require.NoError(t, err)
	must(b.AddBatch(ctx(t), Batch{Recipe: found[0].Ref, AddsTo: pour.Ref, TotalGrams: 1, Lines: []Line{{"RD", 1}}}))
	wrong, err := b.AddPourReading(ctx(t), PourReading{Pour: pour.Ref, ReadOn: "2026-03-30", Readings: []Reading{both}, Part: 2, AgeHours: 24, PartC: &room, FlatMM: 6, ThicknessSD: &half, Verdict: []byte(`{}`)})
	require.NoError(t, err)
	must(b.AddPourReading(ctx(t), PourReading{Pour: pour.Ref, Withdraws: wrong.Ref, Note: "another part"}))
	must(b.Approve(ctx(t), Approval{Recipe: found[0].Ref, Pours: []string{pour.Ref}, Colors: []Lab{lab(61, 39, 21)}, Lots: red}))
	must(b.MoveStock(ctx(t), StockMove{Stock: "pail 1", Kind: Draw, Grams: 10, Pour: pour.Ref}))
	must(b.PutStock(ctx(t), Stock{Name: "D1", Resin: "CLR", Pigment: "RD", Lots: red, MadeOn: "2026-03-30"}, Refuse))
	must(b.MoveStock(ctx(t), StockMove{Stock: "D1", Kind: Tint, Lines: []Line{{"B", 15.02}, {"RD", 0.31}}}))
	must(b.MoveStock(ctx(t), StockMove{Stock: "pail 1", Kind: Tint, Lines: []Line{{"B", 10}, {"RD D1", 0.97}}, LetDown: []LetDown{{"RD D1", "RD", "B", 0.31 / 15.33}}}))
	return b
}

// A record of a bundle, read.
type bundled struct {
	kind
	stored
	v placed
}

func everything(t testing.TB, b *Bench) (all []bundled) {
	t.Helper()
	for _, k := range kinds() {
		rows, err := pool(b).Query("SELECT " + storedColumns + " FROM " + k.table + " ORDER BY id")
		require.NoError(t, err)
		for rows.Next() {
			r := bundled{kind: k, v: k.fresh()}
			require.NoError(t, rows.Scan(r.targets()...))
			require.NoError(t, r.open(k, r.v))
			all = append(all, r)
		}
		require.NoError(t, rows.Close())
	}
	return all
}

// needs adds to want a record with all that it names, and what that names.
func needs(all []bundled, r bundled, want map[string]bool) {
	if want[r.sum] {
		return
	}
	want[r.sum] = true
	for _, l := range append(r.v.links(), link{kind: r.kind, sum: r.prev}) {
		for _, o := range all {
			key, _ := o.named(o.doc)
			if o.kind.name == l.kind.name && (l.sum == o.sum || l.sum == "" && len(l.name) > 0 && fmt.Sprint(key) == fmt.Sprint(l.name)) {
				needs(all, o, want)
			}
		}
	}
}

// bundleOf writes a bundle of what a record names, and of the record with another
// document.
func bundleOf(all []bundled, r bundled, doc string) []byte {
	want := map[string]bool{}
	needs(all, r, want)
	var b bytes.Buffer
	n := 0
	put := func(s stored, k kind) {
		text, _ := document(bundleRecord{k.name, s.prev, s.at, s.who, s.program, s.sum, json.RawMessage(s.doc)})
		b.WriteString(text + "\n")
		n++
	}
	b.WriteString(`{"bundle":"masstone","version":1,"holds":"","at":"` + noon.Format(stampLayout) + `","who":"","program":""}` + "\n")
	for _, o := range all {
		if want[o.sum] && o.sum != r.sum {
			put(o.stored, o.kind)
		}
	}
	if doc != "" {
		s := r.stored
		s.doc = doc
		s.sum = s.digest(r.kind.name)
		put(s, r.kind)
	}
	sum := digestOf(b.String())
	fmt.Fprintf(&b, `{"end":true,"records":%d,"sha256":"%s"}`+"\n", n, hexOf(sum[:]))
	return b.Bytes()
}

// TestRules spoils every field of every kind of record, one at a time, in all
// the ways that its class forbids: a bundle with it is refused, a verb that would
// store it is, and if it is on the bench all the same, from an older program,
// lists go on with the rest and say so in one line.
func TestRules(t *testing.T) {
	if underRace {
		t.Skip("one thing after the other; run without -race")
	}
	b := richBench(t)
	all := everything(t, b)
	seen := map[string]bool{}
	var tried int
	for _, k := range kinds() {
		require.NotEmpty(t, fields[k.name], k.name)
		same := slices.DeleteFunc(slices.Clone(all), func(r bundled) bool { return r.kind.name != k.name })
		for _, r := range all {
			if r.kind.name != k.name {
				continue
			}
			var fresh []spot // not spoiled yet in an earlier record
			for _, s := range spots(reflect.ValueOf(r.v), "") {
				class, ok := fields[k.name][s.path]
				require.True(t, ok, "what does %s of a %s hold?", s.path, k.name)
				if key := k.name + " " + s.path; !seen[key] && worth(r, s, class) {
					seen[key] = true
					fresh = append(fresh, s)
				}
			}
			if len(fresh) == 0 {
				continue
			}
			to := newBench(t)
			_, err := to.Import(ctx(t), bytes.NewReader(bundleOf(all, r, "")), TakeTheirs)
			require.NoError(t, err, "what %s names", r.title(k))
			if n := len(fresh); n > 0 { // the forger knows the format
				c := newBench(t)
				for _, bundle := range [][]byte{bundleOf(all, r, ""), bundleOf(same, r, r.doc)} {
					_, err := c.Import(ctx(t), bytes.NewReader(bundle), TakeTheirs)
					require.NoError(t, err, r.title(k))
				}
			}
			before := checksum(t, to)
			for _, s := range fresh {
				for _, value := range bad(fields[k.name][s.path]) {
					v := k.fresh()
					require.NoError(t, json.Unmarshal([]byte(r.doc), v))
					for _, same := range spots(reflect.ValueOf(v), "") {
						if same.path == s.path {
							same.set(value)
							break
						}
					}
					doc, err := document(v)
					require.NoError(t, err)
					if doc == r.doc {
						continue
					}
					what := fmt.Sprintf("%s: %s = %v", k.name, s.path, value)
					tried++
					_, err = to.Import(ctx(t), bytes.NewReader(bundleOf(same, r, doc)), TakeTheirs) // the rest is there
					require.Error(t, err, what)
					require.NotContains(t, err.Error(), "\n", what)
					_, err = write(ctx(t), to, func(c *change) (int, error) { return 0, c.insert(ctx(t), k, r.prev, v) })
					require.Error(t, err, what)
					require.Equal(t, before, checksum(t, to), what)
				}
			}
		}
	}
	for kind, all := range fields {
		for path, class := range all {
			assert.True(t, seen[kind+" "+path] || len(bad(class)) == 0, "%s of a %s was never spoiled", path, kind)
		}
	}
	t.Logf("%d bad records refused", tried)
}

// worth tells whether a field can be spoiled in this record: a draw has no lines
// and a tint no grams.
func worth(r bundled, s spot, class string) bool {
	if s.set == nil {
		return len(bad(class)) == 0
	}
	m, ok := r.v.(*StockMove)
	switch {
	case ok && strings.HasPrefix(s.path, "lines"):
		return m.Kind == Tint
	case ok && s.path == "grams":
		return m.Kind == Draw
	}
	v, doc := r.kind.fresh(), r.doc
	if json.Unmarshal([]byte(doc), v) != nil {
		return false
	}
	for _, value := range bad(class) {
		for _, same := range spots(reflect.ValueOf(v), "") {
			if same.path == s.path {
				same.set(value)
				break
			}
		}
		if now, _ := document(v); now == doc && class != ref {
			return false
		}
	}
	return class != ref || strings.Contains(doc, `"`+s.path[strings.LastIndex(s.path, ".")+1:]+`"`)
}

// What an older program let in is left out of lists, in one line, and verify
// names it; the rest is there.
func TestListsGoOnWithoutTheSenseless(t *testing.T) {
	for _, c := range []struct {
		kind kind
		v    placed
		list func(*Bench) (int, error)
		want int
	}{
		{kindTarget, &Target{Client: "Tern Lighting", Name: "empty", Readings: []Reading{}}, func(b *Bench) (int, error) { all, err := b.Targets(ctx(t), ""); return len(all), err }, 1},
		{kindStockMove, &StockMove{Stock: "pail 1", Kind: Draw, Grams: -5}, func(b *Bench) (int, error) { l, err := b.StockLevel(ctx(t), "pail 1"); return len(l.Moves), err }, 2},
		{kindStockMove, &StockMove{Stock: "pail 1", Kind: Draw, Grams: 1e7}, func(b *Bench) (int, error) { l, err := b.StockLevel(ctx(t), "pail 1"); return len(l.Moves), err }, 2},
		{kindPigment, &Pigment{Code: "XX", Density: -1}, func(b *Bench) (int, error) { all, err := b.Pigments(ctx(t)); return len(all), err }, 3},
		{kindChip, &Chip{Resin: "CLR", Name: "x", Backing: "white", Readings: []Reading{}}, func(b *Bench) (int, error) { all, err := b.Chips(ctx(t), "CLR"); return len(all), err }, 2},
		{kindRecipe, &Recipe{Resin: "CLR", Loadings: map[string]float64{"RD": 1}, Predicted: []Lab{}, Chance: 7}, func(b *Bench) (int, error) { all, err := b.Find(ctx(t), FindQuery{}); return len(all), err }, 1},
	} {
		b := fullBench(t)
		_, err := write(ctx(t), b, func(c2 *change) (int, error) {
			doc, err := document(c.v)
			require.NoError(t, err)
			var old stored
			if len(c.kind.key) > 0 {
				old, _, err = c2.latest(ctx(t), c.kind, mustKey(c.kind, doc))
				require.NoError(t, err)
			}
			s := stored{prev: old.sum, doc: doc, at: noon.Format(stampLayout), who: "old", program: "old"}
			s.sum = s.digest(c.kind.name)
			if err := c2.store(ctx(t), c.kind, &s); err != nil {
				return 0, err
			}
			return 0, c2.log(ctx(t), "let in", "", "")
		})
		require.NoError(t, err, c.kind.name)
		o := options()
		var heard []string
		o.LeftOut = func(err error) { heard = append(heard, err.Error()) }
		again, err := Open(ctx(t), b.Path(), o)
		require.NoError(t, err)
		n, err := c.list(again)
		require.NoError(t, err, c.kind.name)
		assert.Equal(t, c.want, n, c.kind.name)
		require.Len(t, heard, 1, c.kind.name)
		assert.NotContains(t, heard[0], "\n")
		v, err := again.Verify(ctx(t))
		require.NoError(t, err)
		assert.NotEmpty(t, v.Problems, c.kind.name)
		require.NoError(t, again.Close())
	}
}

func mustKey(k kind, doc string) []any {
	key, err := k.named(doc)
	if err != nil {
		panic(err)
	}
	if len(key) == 0 {
		return nil
	}
	return key
}

// A bench that is left alone by the rules: what a verb took before.
func TestRulesLetOldBenchesBe(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old.db")
	copyFile(t, path, filepath.Join("testdata", "archives", "schema5.db"))
	o := options()
	o.LeftOut = func(err error) { t.Error(err) }
	b, err := Open(ctx(t), path, o)
	require.NoError(t, err)
	defer b.Close()
	verified(t, b)
	for _, s := range []string{"pail 1"} {
		_, err := b.StockLevel(ctx(t), s)
		require.NoError(t, err)
	}
}

// A new card's name has no blank at its ends: nobody sees two cards apart by one.
func TestNamesWithBlanksAtTheirEnds(t *testing.T) {
	for _, name := range []string{" dark", "dark ", "dark\t", "\u00a0dark"} {
		b := newShop(t)
		target := housing()
		target.Name = name
		_, err := b.PutTarget(ctx(t), target, Refuse)
		assert.ErrorIs(t, err, ErrInvalid, "target %q", name)
		target = housing()
		target.Client = name
		_, err = b.PutTarget(ctx(t), target, Refuse)
		assert.ErrorIs(t, err, ErrInvalid, "client %q", name)
		target = housing()
		target.Part = name
		_, err = b.PutTarget(ctx(t), target, Refuse)
		assert.ErrorIs(t, err, ErrInvalid, "part %q", name)
		_, err = b.PutClient(ctx(t), Client{Name: name}, Refuse)
		assert.EqualError(t, err, fmt.Sprintf("client %q: %v: %q begins or ends with a blank; leave the blank out", name, ErrInvalid, name))
		verified(t, b)
	}
}
