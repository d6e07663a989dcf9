package kept_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/kept"
)

// golden is what the program wrote before the documents had a package of their
// own (testdata/SOURCE).
type golden struct {
	Documents map[string]string `json:"documents"`
	Sums      map[string]string `json:"sums"`
}

func readGolden(t *testing.T) golden {
	t.Helper()
	data, err := os.ReadFile("testdata/kept.json")
	require.NoError(t, err)
	var g golden
	require.NoError(t, json.Unmarshal(data, &g))
	return g
}

// TestDocumentsKeepTheirBytes: what is kept today is what was kept then, byte
// for byte, and so are the checksums of the records it stands in and of an
// approval of them.
func TestDocumentsKeepTheirBytes(t *testing.T) {
	was, is := readGolden(t), documents(t)
	assert.Equal(t, was.Documents, is)
	assert.Equal(t, was.Sums, sums(t, is))
}

// TestDocumentsAreReadBack: a document of then is read without loss.
func TestDocumentsAreReadBack(t *testing.T) {
	for name, document := range readGolden(t).Documents {
		t.Run(name, func(t *testing.T) {
			var again any
			var err error
			switch name {
			case "pot":
				var p recipes.Pot
				p, err = kept.ReadPot("B1", []byte(document))
				again = kept.PotOf(p)
			case "verdict", "verdict by axes":
				again, err = kept.ReadVerdict("P1", []byte(document))
			case "typed recipe":
				var r kept.Recipe
				r, err = kept.ReadRecipe("R1", []byte(document))
				again = kept.TypedRecipe{Posterior: r.Posterior}
			default:
				again, err = kept.ReadRecipe("R1", []byte(document))
			}
			require.NoError(t, err)
			data, err := json.Marshal(again)
			require.NoError(t, err)
			assert.Equal(t, document, string(data))
		})
	}
}

// TestDamagedDocuments: what cannot be read is named with what to do.
func TestDamagedDocuments(t *testing.T) {
	for name, read := range map[string]func([]byte) error{
		"batch B2: what is in its pot":      func(d []byte) error { _, err := kept.ReadPot("B2", d); return err },
		"recipe R2: what it was found with": func(d []byte) error { _, err := kept.ReadRecipe("R2", d); return err },
		"P2: its verdict":                   func(d []byte) error { _, err := kept.ReadVerdict("P2", d); return err },
	} {
		assert.NoError(t, read(nil), name)
		assert.ErrorContains(t, read([]byte("{")), name+" cannot be read (")
		assert.ErrorContains(t, read([]byte("{")), "; run ")
	}
}

func TestWord(t *testing.T) {
	assert.Equal(t, "not judged", (*kept.Verdict)(nil).Word())
	assert.Equal(t, "within tolerance", (&kept.Verdict{Passes: true}).Word())
	assert.Equal(t, "outside tolerance", (&kept.Verdict{}).Word())
}

// documents are one of each kind of kept document, all invented.
func documents(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	put := func(name string, v any) {
		data, err := json.Marshal(v)
		require.NoError(t, err)
		out[name] = string(data)
	}
	put("pot", kept.PotOf(recipes.Pot{Resin: 57.31666666666667, Share: 90. / 190, Pigments: map[string]calibrate.Grams{"WH": 1.1, "FG": 0.2104, "BK": 0},
		ScaleGrams: 0.01, MinWeigh: 0.05, MaxGrowth: 2}))
	known := &kept.Posterior{Lots: map[string]calibrate.Strength{"FG": {Ln: 0.12, SD: 1. / 30}, "": {SD: 0.1}}, Pours: []string{"2d135b", "4da13e"},
		Since: map[string]calibrate.Strength{"WH": {Ln: -0.02, SD: 0.05}}}
	put("recipe", kept.Recipe{BatchGrams: 250, ScaleGrams: 0.01, Opacity: 0.9876543210123, CostPerKg: 12.345,
		Metamerism: map[string]float64{"A/10": 0.31, "FL11/10": 1. / 3}, Why: []string{"surest", "next batch"}, Posterior: known})
	put("recipe of chips alone", kept.Recipe{BatchGrams: 100, ScaleGrams: 0.01, Opacity: 0.5})
	put("typed recipe", kept.TypedRecipe{Posterior: &kept.Posterior{Lots: known.Lots}})
	std := color.Lab{L: 66.42, A: -10.35, B: -2.63, Under: color.D65Ten()}
	part := color.Lab{L: 65.45, A: -11.6, B: -2.5, Under: color.D65Ten()}
	difference := color.Difference{DE: 4. / 3, DL: -0.97, DA: -1.25, DB: 0.13, DC: 1.18768, DH: 1e-9, Formula: color.CIEDE2000, Std: std, Sample: part}
	var f recipes.Finding
	f.Difference, f.DE00, f.Words, f.Chance, f.Expected = difference, 1.36666666666, "stronger, darker", 0.0123456789, 1.4
	put("verdict", kept.VerdictOf(recipes.Target{Tolerance: 1}, f))
	other := difference
	other.Std.Under, other.Sample.Under = color.Under(color.A, color.TenDegree), color.Under(color.A, color.TenDegree)
	f.Passes, f.Lights = true, []color.Difference{other}
	limits := map[string]float64{"L": 0.8, "a": 1.25}
	f.Axes = recipes.AxesOf(difference, limits)
	v := kept.VerdictOf(recipes.Target{Axes: limits}, f)
	v.Note = "brought to d/8 specular excluded"
	put("verdict by axes", v)
	return out
}

// sums are the checksums of the records of a bench that holds the documents.
func sums(t *testing.T, documents map[string]string) map[string]string {
	t.Helper()
	ctx, out := t.Context(), map[string]string{}
	day := time.Date(2026, 3, 31, 12, 0, 0, 0, time.UTC)
	b, err := archive.Create(ctx, filepath.Join(t.TempDir(), "bench.db"), archive.Options{Now: func() time.Time { return day }, Who: "ada", Program: "test"})
	require.NoError(t, err)
	defer b.Close()
	_, err = b.PutResin(ctx, archive.Resin{Code: "CLR", MixA: 100, MixB: 90, PigmentSide: "B"}, archive.Refuse)
	require.NoError(t, err)
	_, err = b.ImportPigments(ctx, []archive.Pigment{{Code: "WH"}, {Code: "FG"}})
	require.NoError(t, err)
	lab := archive.Lab{L: 66.42, A: -10.35, B: -2.63, Illuminant: "D65", Observer: 10}
	read := []archive.Reading{{Lab: &lab, Geometry: "d/8", Specular: "included"}}
	_, err = b.PutTarget(ctx, archive.Target{Client: "Tern", Name: "lamp", ThicknessMM: 3, Backing: "white", Tolerance: 1, Formula: "CIEDE2000", Readings: read}, archive.Refuse)
	require.NoError(t, err)
	target, err := b.Target(ctx, "Tern", "lamp")
	require.NoError(t, err)
	found, err := b.AddRecipes(ctx, archive.Recipe{Name: "surest", Resin: "CLR", Client: "Tern", Target: "lamp", TargetCard: target.Ref,
		Loadings: map[string]float64{"WH": 1.1, "FG": 0.21}, ThicknessMM: 3, Backing: "white", Predicted: []archive.Lab{lab}, Document: []byte(documents["recipe"])})
	require.NoError(t, err)
	made, err := b.AddBatch(ctx, archive.Batch{Recipe: found[0].Ref, TotalGrams: 250, Lines: []archive.Line{{Item: "B", Grams: 117}}})
	require.NoError(t, err)
	pour, err := b.AddPour(ctx, archive.Pour{Batch: made.Ref, PouredOn: "2026-03-31"})
	require.NoError(t, err)
	reading, err := b.AddPourReading(ctx, archive.PourReading{Pour: pour.Ref, ReadOn: "2026-03-31", Readings: read, Verdict: []byte(documents["verdict"])})
	require.NoError(t, err)
	added, err := b.AddBatch(ctx, archive.Batch{Recipe: found[0].Ref, AddsTo: pour.Ref, TotalGrams: 120, Lines: []archive.Line{{Item: "WH", Grams: 0.2}}, Document: []byte(documents["pot"])})
	require.NoError(t, err)
	again, err := b.AddPour(ctx, archive.Pour{Batch: added.Ref, PouredOn: "2026-03-31"})
	require.NoError(t, err)
	approval, err := b.Approve(ctx, archive.Approval{Recipe: found[0].Ref, Pours: []string{pour.Ref, again.Ref}})
	require.NoError(t, err)
	for name, ref := range map[string]string{"recipe": found[0].Ref, "reading": reading.Ref, "additions": added.Ref, "approval": approval.Ref} {
		out[name] = ref
	}
	return out
}
