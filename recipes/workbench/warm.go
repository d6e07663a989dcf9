package workbench

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"

	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// Many colours shift with temperature (thermochromism), each in its own way, which the
// readings here do not tell. A part is compared at the temperature its target was read
// at, or else at that of a room: 23 degrees is the standard atmosphere of ISO 291; that
// 5 degrees either way hardly show is common practice, no source.
const (
	roomC     = 23.0
	mostWarmC = 5.0
)

// targetC is the temperature a target was read at, as its file states it; that of a
// room where it does not.
func targetC(t *archive.Target) float64 {
	if t != nil {
		for _, r := range t.Readings {
			if r.Taken == nil {
				continue
			}
			if c, ok := celsius(r.Taken.Temperature); ok {
				return c
			}
		}
	}
	return roomC
}

// celsius reads a temperature as files write it: 23, 23.5 C, 23 degC.
func celsius(text string) (float64, bool) {
	text = strings.TrimSpace(strings.TrimRight(strings.TrimSpace(text), "CcdegDEG° "))
	c, err := strconv.ParseFloat(strings.ReplaceAll(text, ",", "."), 64)
	return c, err == nil && !math.IsNaN(c) && math.Abs(c) <= 200
}

// otherWarmth says that a part was read too warm or too cold to be compared, empty
// where it was not, or nobody looked.
func otherWarmth(r archive.PourReading, t *archive.Target) string {
	at := targetC(t)
	if r.PartC == nil || math.Abs(*r.PartC-at) <= mostWarmC {
		return ""
	}
	return fmt.Sprintf("it was read at %s °C, not near %s °C: colours shift with temperature (thermochromism), by how much is not known here", figure.Short(*r.PartC), figure.Short(at))
}

// otherWarmth says so of the readings of a pour that count.
func (c cast) otherWarmth(ctx context.Context, a *archive.Bench) (string, error) {
	if len(c.readings) == 0 {
		return "", nil
	}
	t, err := targetOf(ctx, a, c.recipe)
	if err != nil {
		return "", err
	}
	counted, err := c.counted()
	if err != nil {
		return "", err
	}
	for _, r := range counted {
		if why := otherWarmth(r, t); why != "" {
			return why, nil
		}
	}
	return "", nil
}
