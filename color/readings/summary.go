package readings

import (
	"fmt"
	"regexp"
	"strings"
)

// statistics are what spreadsheets and instruments write beside the rows of
// statistics below readings; true where a row of such a name with a piece's, as
// in "Average of red", is no piece either. Common practice, no source.
var statistics = map[string]bool{"average": true, "avg": true, "mean": true, "meanvalue": true, "averagevalue": true, "median": true,
	"stdev": true, "stddev": true, "stdev.s": true, "stdev.p": true, "stddeviation": true, "standarddeviation": true, "standarddev": true, "σ": true,
	"mittelwert": true, "durchschnitt": true, "standardabweichung": true, "stabw": true, "moyenne": true, "écarttype": true,
	"sd": false, "s.d": false, "min": false, "minimum": false, "max": false, "maximum": false, "range": false, "sum": false, "total": false,
	"count": false, "variance": false, "cv%": false, "%cv": false, "rsd": false, "rsd%": false, "coefficientofvariation": false, "mcdm": false}

// counted is what follows the name of a statistic: "(4)", "of 4", "n=4".
var counted = regexp.MustCompile(`(?i)[ (]+(?:of )?(?:n ?= ?)?[0-9]+\)?$`)

// statistic tells whether a text is a word of statistics, and whether it may
// stand with the name of a piece.
func statistic(text string) (known, withPiece bool) {
	word := strings.TrimRight(normalHeader(text), ".")
	for _, w := range []string{word, strings.ReplaceAll(word, ".", "")} {
		if with, found := statistics[w]; found {
			return true, with
		}
	}
	return false, false
}

// isSummary tells whether a name is that of a row of statistics, by itself or
// with the name of a piece that the file has.
func isSummary(name string, pieces map[string]bool) bool {
	if known, _ := statistic(name); known {
		return true
	}
	if short := counted.ReplaceAllString(name, ""); short != name {
		if known, with := statistic(short); known && with {
			return true
		}
	}
	words := strings.Fields(name)
	for i := 1; i < len(words); i++ {
		front, back := strings.Join(words[:i], " "), strings.Join(words[i:], " ")
		if known, with := statistic(front); known && with && (pieces[back] || pieces[strings.TrimPrefix(back, "of ")]) {
			return true
		}
		if known, with := statistic(strings.Trim(back, "()")); known && with && pieces[strings.TrimRight(front, " -:")] {
			return true
		}
	}
	return false
}

// below are words that may name a piece, but not right below a row of statistics.
var below = map[string]bool{"n": true, "cv": true, "std": true, "var": true}

// dropSummaries leaves out the rows of statistics and notes them.
func (s *sheet) dropSummaries(pl *plan) {
	pieces := map[string]bool{}
	for _, r := range s.records {
		pieces[pl.nameIn(r)] = true
	}
	summary := make([]bool, len(s.records))
	var found []string
	for i, r := range s.records {
		name := pl.nameIn(r)
		summary[i] = isSummary(name, pieces) || i > 0 && summary[i-1] && below[normalHeader(name)]
		if summary[i] {
			found = append(found, fmt.Sprintf("%d (%s)", r.line, oneLine(name, 40)))
		}
	}
	if len(found) == 0 {
		return
	}
	s.keep(func(i int) bool { return !summary[i] })
	s.notes = append(s.notes, "rows of statistics, not taken for readings: "+strings.Join(found, ", "))
}
