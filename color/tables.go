package color

import (
	_ "embed" // the CIE tables travel inside the program
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"
)

// The span over which light is summed, that of the CIE observers.
const (
	spanFirst = 360
	spanLast  = 830
	spanCount = spanLast - spanFirst + 1
	lightStep = 5 // of the illuminant table
)

//go:embed tables/observers.csv
var observersCSV string

//go:embed tables/illuminants.csv
var illuminantsCSV string

// curve holds one value per nm from spanFirst to spanLast.
type curve [spanCount]float64

// column is one column of a table: values at even steps from firstNM.
type column struct {
	firstNM int
	values  []float64
}

type cie struct {
	matching map[Observer]*[3]curve
	tabled   map[Illuminant]column // 5 nm, as published
	power    map[Illuminant]*curve
}

// tables reads the embedded CIE tables once. They are part of the program, so
// a damaged one is our mistake and panics.
var tables = sync.OnceValue(func() *cie {
	t := &cie{
		matching: map[Observer]*[3]curve{},
		tabled:   map[Illuminant]column{},
		power:    map[Illuminant]*curve{},
	}
	columns := readTable(observersCSV, 1)
	for observer, names := range map[Observer][3]string{
		TwoDegree: {"x2", "y2", "z2"}, TenDegree: {"x10", "y10", "z10"},
	} {
		var match [3]curve
		for i, name := range names {
			if len(columns[name].values) != spanCount {
				panic("color: observer table is not 360-830 nm")
			}
			copy(match[i][:], columns[name].values)
		}
		t.matching[observer] = &match
	}
	columns = readTable(illuminantsCSV, lightStep)
	for _, name := range Illuminants() {
		c, ok := columns[strings.ReplaceAll(string(name), "-", "_")]
		if !ok {
			panic("color: no table for illuminant " + string(name))
		}
		t.tabled[name], t.power[name] = c, perNM(name, c)
	}
	return t
})

// perNM gives the power of an illuminant at every nm: illuminant A by its
// formula, the others straight between their 5 nm values, as ISO/CIE 11664-2
// directs for D65. Past 780 nm the daylights and C hold their last value;
// lamps, of which nothing is tabulated there, are taken as dark outside
// 380-780 nm.
func perNM(name Illuminant, c column) *curve {
	var out curve
	lamp := strings.HasPrefix(string(name), "FL") || strings.HasPrefix(string(name), "LED")
	last := c.firstNM + (len(c.values)-1)*lightStep
	for i := range out {
		nm := spanFirst + i
		switch {
		case name == A:
			out[i] = planckA(float64(nm))
		case nm < c.firstNM, nm > last && lamp:
		case nm >= last:
			out[i] = c.values[len(c.values)-1]
		default:
			k, part := (nm-c.firstNM)/lightStep, float64((nm-c.firstNM)%lightStep)/lightStep
			out[i] = (1-part)*c.values[k] + part*c.values[k+1]
		}
	}
	return &out
}

// planckA is illuminant A, 100 at 560 nm (ISO/CIE 11664-2).
func planckA(nm float64) float64 {
	radiator := func(nm float64) float64 { return math.Expm1(1.435e7 / (2848 * nm)) }
	return 100 * math.Pow(560/nm, 5) * radiator(560) / radiator(nm) // (3)
}

// readTable reads the columns of a table headed "nm,name,name"; empty cells
// may stand only above and below a column's numbers.
func readTable(csv string, step int) map[string]column {
	var header []string
	columns := map[string]column{}
	for row, line := range strings.Split(csv, "\n") {
		if line = strings.TrimSpace(line); line == "" || line[0] == '#' {
			continue
		}
		cells := strings.Split(line, ",")
		if header == nil {
			header = cells
			continue
		}
		nm := int(tableNumber(row, cells[0]))
		for i, cell := range cells[1:] {
			if cell == "" {
				continue
			}
			c := columns[header[i+1]]
			if c.values == nil {
				c.firstNM = nm
			}
			if nm != c.firstNM+step*len(c.values) {
				panic(fmt.Sprintf("color: table row %d is out of step", row+1))
			}
			c.values = append(c.values, tableNumber(row, cell))
			columns[header[i+1]] = c
		}
	}
	return columns
}

func tableNumber(row int, cell string) float64 {
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		panic(fmt.Sprintf("color: table row %d: %v", row+1, err))
	}
	return v
}
