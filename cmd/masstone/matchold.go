package main

type matchOptions struct {
	target, client, resin    string
	version                  int
	thickness                float64
	over                     string
	maxPigments, answers     int
	required, allowed        []string
	forbidden                []string
	maxPHR                   map[string]float64
	totalPHR                 float64
	grams, scale, minWeigh   float64
	scatter, opacity         float64
	maxCost, resinPrice      float64
	stock, byPredicted, keep bool
	heatClass, lightClass    float64
	strictClass              bool
}

// usualThickness stands in for a part whose thickness is not known.
const usualThickness = 3

func firstText(values ...string) string {
	for _, v := range values {
		if v != "" {
			return v
		}
	}
	return ""
}
