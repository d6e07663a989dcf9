package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/rivo/uniseg"

	"masstone/color"
	"masstone/color/legible"
)

// A table prints aligned columns. A head that begins with ">" is set to the
// right.
type table struct {
	heads   []string
	right   []bool
	rows    [][]string
	painted map[int]string // swatch in front of a row
}

func newTable(heads ...string) *table {
	t := &table{painted: map[int]string{}}
	for _, h := range heads {
		text, right := strings.CutPrefix(h, ">")
		t.heads = append(t.heads, text)
		t.right = append(t.right, right)
	}
	return t
}

func (t *table) add(cells ...string) {
	for i, c := range cells {
		cells[i] = tidy(c)
	}
	t.rows = append(t.rows, cells)
}

// paint puts a swatch in front of the row added last.
func (t *table) paint(swatch string) {
	if swatch != "" {
		t.painted[len(t.rows)-1] = swatch
	}
}

func (t *table) print(w io.Writer) {
	width := make([]int, len(t.heads))
	for _, row := range append([][]string{t.heads}, t.rows...) {
		for i, c := range row {
			width[i] = max(width[i], uniseg.StringWidth(c))
		}
	}
	line := func(front string, cells []string) {
		var b strings.Builder
		b.WriteString(front)
		for i, c := range cells {
			if i > 0 {
				b.WriteString("  ")
			}
			pad := strings.Repeat(" ", width[i]-uniseg.StringWidth(c))
			if t.right[i] {
				c = pad + c
			} else {
				c += pad
			}
			b.WriteString(c)
		}
		fmt.Fprintln(w, strings.TrimRight(b.String(), " "))
	}
	blank := ""
	if len(t.painted) > 0 {
		blank = strings.Repeat(" ", swatchWidth+1)
	}
	line(blank, t.heads)
	for n, row := range t.rows {
		front := blank
		if s, found := t.painted[n]; found {
			front = s + " "
		}
		line(front, row)
	}
}

// tidy makes foreign text safe for a terminal.
func tidy(s string) string { return legible.Text(s) }

// named is foreign text as a name in a line of words.
func named(s string) string { return `"` + strings.ReplaceAll(tidy(s), `"`, `\"`) + `"` }

const swatchWidth = 3

// swatch is a block of the colour for a terminal, empty where swatches are off.
func (e *Env) swatch(lab color.Lab) string {
	if !e.Color {
		return ""
	}
	s, err := lab.Swatch()
	if err != nil {
		return ""
	}
	return fmt.Sprintf("\x1b[48;2;%d;%d;%dm%s\x1b[0m", s.R, s.G, s.B, strings.Repeat(" ", swatchWidth))
}

// screen is the colour for a screen in words: #c0504d, and whether a screen
// can show it.
func screen(lab color.Lab) string {
	s, err := lab.Swatch()
	switch {
	case err != nil:
		return ""
	case !s.InGamut:
		return s.Hex() + " (nearest a screen can show)"
	}
	return s.Hex()
}
