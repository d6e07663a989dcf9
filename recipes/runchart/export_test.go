package runchart

// RoundTicks are the labels of an axis.
func RoundTicks(from, to, least float64) (all []string) {
	for _, t := range (roundTicks{least}).Ticks(from, to) {
		all = append(all, t.Label)
	}
	return all
}
