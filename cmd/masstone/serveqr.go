package main

import (
	"fmt"
	"strings"

	"github.com/boombuler/barcode/qr"
)

// quietZone is the light margin that a QR code needs, in modules (ISO/IEC 18004).
const quietZone = 4

// drawnCode draws a text as a QR code of two modules a character, light ones as
// blocks, since terminals mostly are dark; color makes sure of black and white.
func drawnCode(text string, color bool) (string, error) {
	code, err := qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		return "", fmt.Errorf("no QR code holds %s (%w); leave out --qr", text, err)
	}
	side := code.Bounds().Dx()
	light := func(x, y int) bool {
		x, y = x-quietZone, y-quietZone
		if x < 0 || y < 0 || x >= side || y >= side {
			return true
		}
		level, _, _, _ := code.At(x, y).RGBA()
		return level != 0
	}
	var b strings.Builder
	for y := 0; y < side+2*quietZone; y += 2 {
		if color {
			b.WriteString("\x1b[97;40m")
		}
		for x := range side + 2*quietZone {
			b.WriteString(map[[2]bool]string{{true, true}: "█", {true, false}: "▀", {false, true}: "▄", {false, false}: " "}[[2]bool{light(x, y), light(x, y+1)}])
		}
		if color {
			b.WriteString("\x1b[0m")
		}
		b.WriteString("\n")
	}
	return b.String(), nil
}
