package page_test

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/workbench"
)

// TestEquipmentPages: a scale and an instrument are added, changed and put in use by
// forms, once each and not over what others stored; and what is in use is what a form
// goes by that leaves it open.
func TestEquipmentPages(t *testing.T) {
	b := workedBench(t)
	v := visit(t, b, nil)
	step := func() float64 {
		t.Helper()
		v.open("/recipe/R1").send("/batch", "grams", "200").sees("the scale goes to")
		sheet, _, err := workbench.ShowBatch(t.Context(), b, v.at.Path[len("/batch/"):], nil)
		require.NoError(t, err)
		return sheet.Step.Grams()
	}
	require.InDelta(t, 0.01, step(), 1e-9, "no scale is known")
	v.open("/shelf").send("/shelf/scale", "name", `bench "<2>"`, "step", "0.1", "max", "2000").sees(`bench "<2>"`, "shows 0.1 g, carries 2000 g", "in use")
	require.NotContains(t, v.raw, `"<2>"`)
	require.InDelta(t, 0.1, step(), 1e-9, "the one in use")
	v.open("/shelf").send("/shelf/scale", "name", "fine", "step", "0.001").sees("shows 0.001 g", "Use it")
	require.InDelta(t, 0.1, step(), 1e-9)
	v.open("/recipe/R1").sees(`bench "<2>" (0.1 g), if empty; or fine (0.001 g)`)
	v.send("/batch", "grams", "201", "scale", "fine").sees("the scale goes to")
	v.open("/recipe/R1").send("/batch", "grams", "202", "scale", "kitchen").sees(`unknown scale "kitchen"`)
	v.open("/shelf").send("/shelf/equipment/use").sees("in use")
	require.InDelta(t, 0.001, step(), 1e-9, "put in use")

	// a form counts once, and is not stored over what others stored meanwhile
	w := v.another()
	before := logged(t, b)
	v.open("/scale?name=fine").send("/shelf/scale", "note", "levelled")
	v.open("/shelf").send("/shelf/scale", "name", "fine", "step", "0.002")
	require.Equal(t, http.StatusConflict, v.status)
	require.Equal(t, before+1, logged(t, b))
	v.open("/scale?name=fine")
	w.open("/scale?name=fine").send("/shelf/scale", "max", "300").sees("carries 300 g")
	v.send("/shelf/scale", "max", "250")
	require.Equal(t, http.StatusConflict, v.status)
	v.sees("was changed by ada", "on the bench now: 300", "all the same")
	v.send("/shelf/scale").sees("carries 250 g")
	require.InDelta(t, 0.001, step(), 1e-9, "a new card leaves it in use")

	// an instrument says under which light a typed reading is
	v.open("/shelf").send("/shelf/instrument", "name", "sphere", "illuminant", "D50/2", "geometry", "d/8", "specular", "included", "aperture-mm", "8").sees("d/8, specular included, aperture 8 mm, D50/2", "in use")
	v.open("/chip?resin=CLR&name=WH-2").sees("D50/2, as sphere shows it, if empty").send("/readings/look", "lab", "96.47,-1.79,2.75").sees("D50/2")
	v.open("/chip?resin=CLR&name=WH-2").send("/readings/look", "lab", "96.47,-1.79,2.75", "illuminant", "D65/10").sees("D65/10")
	v.open("/instrument?name=sphere")
	w.open("/instrument?name=sphere").send("/shelf/instrument", "aperture-mm", "4")
	v.send("/shelf/instrument", "aperture-mm", "6").sees("on the bench now: 4")
	require.Equal(t, http.StatusConflict, v.status)
}
