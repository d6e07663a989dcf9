package color

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParseIlluminant(t *testing.T) {
	for text, want := range map[string]Illuminant{
		"A": A, "c": C, "d50": D50, " D65 ": D65, "FL2": FL2, "F2": FL2, "f7": FL7, "F11": FL11, "fl11": FL11,
		"LED-B1": LEDB1, "led_b3": LEDB3, "LEDB5": LEDB5, "LED B4": LEDB4,
	} {
		got, err := ParseIlluminant(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "E", "F", "FF11", "FFL11", "D6", "D655", "LED", "F1"} {
		_, err := ParseIlluminant(text)
		assert.ErrorContains(t, err, "use one of A, C, D50", text)
	}
}

func TestParseObserver(t *testing.T) {
	for text, want := range map[string]Observer{"2": 2, "10": 10, " 10° ": 10, "2 deg": 2, "10degrees": 10, "2 degree": 2, "10_Degree": 10, "CIE 1931": 2, "1931_2": 2, "CIE 1964 10 degree": 10, "10-degree": 10} {
		got, err := ParseObserver(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "4", "02", "ten", "-10", "deg"} {
		_, err := ParseObserver(text)
		assert.ErrorContains(t, err, "use 2 or 10", text)
	}
}

func TestParseCondition(t *testing.T) {
	got, err := ParseCondition("f11/2")
	require.NoError(t, err)
	assert.Equal(t, Under(FL11, TwoDegree), got)
	for text, says := range map[string]string{
		"D65": "has no observer", "D65/": "unknown observer", "/10": "unknown illuminant", "D65/10/2": "unknown observer",
	} {
		_, err := ParseCondition(text)
		assert.ErrorContains(t, err, says, text)
	}
}

func TestConditionsTravelAsText(t *testing.T) {
	x := Lab{61.2, 38.9, 21.4, Condition{LEDB3, TenDegree}}
	text, err := json.Marshal(x)
	require.NoError(t, err)
	assert.JSONEq(t, `{"L":61.2,"a":38.9,"b":21.4,"under":"LED-B3/10"}`, string(text))
	var back Lab
	require.NoError(t, json.Unmarshal(text, &back))
	assert.Equal(t, x, back)

	var c Condition
	assert.Error(t, c.UnmarshalText([]byte("D65")))
	assert.Equal(t, Condition{}, c)
	require.NoError(t, json.Unmarshal([]byte(`{"L":1,"a":2,"b":3,"under":""}`), &back))
	assert.Equal(t, Condition{}, back.Under)
}

func FuzzParseCondition(f *testing.F) {
	for _, s := range []string{"D65/10", "f11/2", "LED_B3/10°", "A/2 deg", "/", "FL/FL", "D65/10/"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, err := ParseCondition(s)
		if err != nil {
			require.Equal(t, Condition{}, c)
			require.NotContains(t, err.Error(), "\n")
			return
		}
		require.NoError(t, c.Check())
		again, err := ParseCondition(c.String())
		require.NoError(t, err)
		require.Equal(t, c, again)
	})
}
