package workbench

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/color"
)

// reading is a typed reading of a part under D65.
func reading(texts ...string) Readings {
	return Readings{Typed: texts, Condition: color.D65Ten()}
}

// TestWhatAClientAccepts: a client who says nothing accepts the usual
// difference, one who gives limits along axes only those.
func TestWhatAClientAccepts(t *testing.T) {
	limits := map[string]float64{"b": 0.5, "L": 0.8}
	for name, c := range map[string]struct {
		r         AddTargetRequest
		tolerance float64
		accepts   string
	}{
		"nothing":   {AddTargetRequest{}, 1, "1 CIEDE2000"},
		"tolerance": {AddTargetRequest{Tolerance: 0.7, Formula: "CMC(2:1)"}, 0.7, "0.7 CMC(2:1)"},
		"limits":    {AddTargetRequest{Limits: limits}, 0, "dL 0.8, db 0.5"},
		"both":      {AddTargetRequest{Tolerance: 1.5, Limits: limits}, 1.5, "1.5 CIEDE2000, dL 0.8, db 0.5"},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t)
			c.r.Name, c.r.Readings = "lamp", reading("50,1,1")
			v, err := AddTarget(t.Context(), b, c.r)
			require.NoError(t, err)
			assert.Equal(t, "added", v.Outcome)
			assert.EqualValues(t, c.tolerance, v.Tolerance)
			assert.Equal(t, c.accepts, v.Accepts)
			assert.EqualValues(t, 3, v.ThicknessMM)
			assert.Equal(t, "white", v.Over)
			shown, err := ShowTarget(t.Context(), b, "", "lamp")
			require.NoError(t, err)
			assert.Equal(t, v.Target, shown.Target)
			assert.Empty(t, shown.Recipes)
		})
	}
}

// TestTargetOfSeveralReadings: its colour is their mean, and what does not
// belong is said when it is added and when it is shown.
func TestTargetOfSeveralReadings(t *testing.T) {
	for name, c := range map[string]struct {
		typed  []string
		odd    int // 0 for none
		remark string
		also   string
	}{
		"alike":    {[]string{"50,1,1", "50.2,1,1"}, 0, "", ""},
		"one odd":  {[]string{"50,1,1", "50.1,1,1", "60,1,1", "50,1,1.1", "50.1,1,1"}, 3, "reading 3 under D65/10 does not belong", ""},
		"all over": {[]string{"50,1,1", "56,1,1"}, 0, "the readings under D65/10 lie ", "it is metallic, pearl, textured"},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t)
			v, err := AddTarget(t.Context(), b, AddTargetRequest{Name: "lamp", Readings: reading(c.typed...)})
			require.NoError(t, err)
			require.Len(t, v.Colors, 1)
			assert.Equal(t, len(c.typed), v.Colors[0].Readings)
			if c.odd == 0 {
				assert.Nil(t, v.Colors[0].Outlier)
			} else if assert.NotNil(t, v.Colors[0].Outlier) {
				assert.Equal(t, c.odd, *v.Colors[0].Outlier)
			}
			shown, err := ShowTarget(t.Context(), b, "", "lamp")
			require.NoError(t, err)
			assert.Equal(t, v.Remarks, shown.Remarks)
			if c.remark == "" {
				assert.Empty(t, v.Remarks)
				return
			}
			assert.Contains(t, v.Remarks[0].Text, c.remark)
			if c.also == "" {
				assert.Len(t, v.Remarks, 1)
			} else if assert.Len(t, v.Remarks, 2) {
				assert.Contains(t, v.Remarks[1].Text, c.also)
			}
		})
	}
}

// TestTargetsOfClients: targets of one name are told apart by their clients, and
// a card is replaced only where that is asked for.
func TestTargetsOfClients(t *testing.T) {
	b := newBench(t)
	add := func(client, lab string, replace bool) (TargetOutcome, error) {
		return AddTarget(t.Context(), b, AddTargetRequest{Name: "lamp", Client: client, Readings: reading(lab), Replace: replace})
	}
	for _, client := range []string{"Tern", "Gull"} {
		require.NoError(t, errOf(add(client, "50,1,1", false)))
	}
	_, err := ShowTarget(t.Context(), b, "", "lamp")
	require.Equal(t, Conflict, KindOf(err), "%v", err)
	require.NoError(t, errOf(ShowTarget(t.Context(), b, "Gull", "lamp")))
	for client, want := range map[string]int{"": 2, "Tern": 1, "Heron": 0} {
		v, err := Targets(t.Context(), b, client)
		require.NoError(t, err)
		assert.Len(t, v.Targets, want)
	}
	v, err := add("Tern", "50,1,1", false)
	require.NoError(t, err)
	assert.Equal(t, "unchanged", v.Outcome)
	_, err = add("Tern", "60,1,1", false)
	require.Equal(t, Conflict, KindOf(err))
	require.ErrorContains(t, err, "add ⟦replace⟧ to replace the target, or give it another name; nothing was changed")
	v, err = add("Tern", "60,1,1", true)
	require.NoError(t, err)
	assert.Equal(t, "changed", v.Outcome)
	_, err = ShowTarget(t.Context(), b, "", "nothing")
	require.Equal(t, NotFound, KindOf(err))
}

// TestTargetIsRefused: what is wrong with a request is said of its input.
func TestTargetIsRefused(t *testing.T) {
	b := newBench(t)
	for problem, r := range map[string]AddTargetRequest{
		"give readings, either ⟦lab=L,a,b⟧":                {},
		"⟦illuminant⟧ is missing":                          {Readings: Readings{Typed: []string{"50,1,1"}}},
		"holds 2 numbers":                                  {Readings: reading("50,1")},
		"45/0 cannot include the specular reflection":      {Readings: Readings{Typed: []string{"50,1,1"}, Condition: color.D65Ten(), Measurement: color.Measurement{Geometry: color.Directional, Specular: color.SpecularIncluded}}},
		"holds readings of 2 pieces; say which with ⟦row⟧": {Readings: Readings{File: new(fileOf("f.csv", sampleFile))}},
	} {
		r.Name = "lamp"
		_, err := AddTarget(t.Context(), b, r)
		require.ErrorContains(t, err, problem)
		require.Equal(t, Invalid, KindOf(err))
	}
	_, err := AddTarget(t.Context(), b, AddTargetRequest{Name: "lamp", Over: "grey", Readings: reading("50,1,1")})
	require.Equal(t, NotFound, KindOf(err))
	v, err := AddTarget(t.Context(), b, AddTargetRequest{Name: "lamp", Readings: Readings{File: new(fileOf("f.csv", sampleFile)), Row: "lamp"}})
	require.NoError(t, err)
	require.Len(t, v.Colors, 2)
	require.Equal(t, 2, v.Colors[1].Readings)
}
