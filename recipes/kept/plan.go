package kept

import "encoding/json"

// A Plan is what is kept of a plan of chips beside the chips.
type Plan struct {
	Title    string     `json:"title"`
	Whites   []string   `json:"whites,omitempty"` // the one colours are let down in first
	Lights   []string   `json:"lights,omitempty"` // each chip will be read under
	Spectrum bool       `json:"spectrum,omitempty"`
	Mixtures int        `json:"mixtures,omitempty"` // of interest
	Before   float64    `json:"before_de00,omitempty"`
	After    float64    `json:"after_de00,omitempty"`
	Gains    []PlanGain `json:"gains,omitempty"` // of the chips, in their order
	Notes    []string   `json:"notes,omitempty"`
	// Chance is that of the next pour for the targets, their mean, now.
	Chance float64 `json:"chance,omitempty"`
	// Castings are those of chips and pours that a target is likely to take by a
	// plan of first chips, and WholeCastings by the full set.
	Castings      float64 `json:"expected_castings,omitempty"`
	WholeCastings float64 `json:"full_set_castings,omitempty"`
}

// A PlanGain is what a chip of a plan buys: the mean expected CIEDE2000 with it
// and those before it, and the mixture that gains most.
type PlanGain struct {
	After        float64            `json:"after_de00"`
	What         string             `json:"what,omitempty"`
	Loadings     map[string]float64 `json:"loadings"` // phr
	BeforeOfThis float64            `json:"before_of_this_de00"`
	AfterOfThis  float64            `json:"after_of_this_de00"`
	Chance       float64            `json:"chance,omitempty"` // of the next pour with it and those before it
}

// ReadPlan reads what is kept of the plan of that ID; an empty document says
// nothing.
func ReadPlan(id string, document json.RawMessage) (Plan, error) {
	var p Plan
	return p, read("plan "+id+": how it was made", document, &p)
}
