package papers

import (
	"strings"

	"github.com/rivo/uniseg"
)

// A measure gives the width of a text in the units of its format.
type measure func(string) float64

// wrap breaks a text into lines no wider than room, where the Unicode line
// breaking algorithm (UAX 14) allows, else between letters. One letter is on a
// line however narrow the room. There is always a line.
func wrap(s string, room float64, wide measure) []string {
	var out []string
	line := ""
	flush := func() {
		out = append(out, strings.TrimRight(line, " "))
		line = ""
	}
	for state, rest := -1, strings.Trim(s, " "); rest != ""; {
		var piece string
		var must bool
		piece, rest, must, state = uniseg.FirstLineSegmentInString(rest, state)
		if line != "" && wide(strings.TrimRight(line+piece, " ")) > room {
			flush()
		}
		for wide(strings.TrimRight(piece, " ")) > room {
			part, left := cut(piece, room, wide)
			if left == "" {
				break
			}
			out = append(out, part)
			piece = left
		}
		line += piece
		if must && rest != "" {
			flush()
		}
	}
	if line != "" || out == nil {
		flush()
	}
	return out
}

// cut takes as many letters as fit, at least one.
func cut(s string, room float64, wide measure) (part, left string) {
	state := -1
	for rest := s; rest != ""; {
		var letter string
		letter, rest, _, state = uniseg.FirstGraphemeClusterInString(rest, state)
		if part != "" && wide(part+letter) > room {
			return part, s[len(part):]
		}
		part += letter
	}
	return part, ""
}

// longestPiece is the width of the widest piece that wrap leaves whole.
func longestPiece(s string, wide measure) float64 {
	most := 0.0
	for state, rest := -1, s; rest != ""; {
		var piece string
		piece, rest, _, state = uniseg.FirstLineSegmentInString(rest, state)
		most = max(most, wide(strings.TrimRight(piece, " ")))
	}
	return most
}

// room is what a column of a table asks for.
type room struct {
	natural float64 // on one line
	least   float64 // words stay whole
	hard    float64 // below it the cells are no longer readable
	wraps   bool    // gives way first
}

// cellRoom is the room of a cell that may break at words, or anywhere if it
// must, but not below hard.
func cellRoom(text string, hard float64, wide measure) room {
	least := longestPiece(text, wide)
	return room{natural: wide(text), least: least, hard: min(least, hard)}
}

// whole is the room of what never breaks, such as a figure.
func whole(width float64) room { return room{natural: width, least: width, hard: width} }

// with is the room of a column for one more cell.
func (r room) with(c room) room {
	return room{max(r.natural, c.natural), max(r.least, c.least), max(r.hard, c.hard), r.wraps}
}

// fit narrows columns into width: those that wrap give way first, down to their
// longest word, then the others likewise, then words break, and if even that
// is too wide all columns shrink alike.
func fit(columns []room, width float64) []float64 {
	widths := make([]float64, len(columns))
	over := -width
	for i, c := range columns {
		widths[i] = c.natural
		over += c.natural
	}
	for pass := range 5 {
		slack, sum := make([]float64, len(columns)), 0.0
		for i, c := range columns {
			to := widths[i]
			switch {
			case pass == 0 && c.wraps, pass == 1:
				to = c.least
			case pass == 2 && c.wraps, pass == 3:
				to = c.hard
			case pass == 4:
				to = 0
			}
			slack[i] = max(0, widths[i]-to)
			sum += slack[i]
		}
		if over <= 0 || sum == 0 {
			continue
		}
		share := min(1, over/sum)
		for i := range widths {
			widths[i] -= share * slack[i]
		}
		over -= share * sum
	}
	return widths
}
