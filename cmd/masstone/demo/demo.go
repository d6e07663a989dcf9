// Package demo holds the files of an invented shop: invented pigments with
// invented curves, chips, mixtures and a part. Nothing in it was measured, and
// no pigment, resin, client or part in it exists.
package demo

import (
	"embed"
	"io/fs"
)

//go:generate go run ./generate shop

//go:embed shop/*.csv
var files embed.FS

// Shop is the invented shop's files: pigments.csv, chips.csv, mixtures.csv and
// lamp.csv.
func Shop() fs.FS {
	shop, err := fs.Sub(files, "shop")
	if err != nil {
		panic(err) // the folder is part of the program
	}
	return shop
}
