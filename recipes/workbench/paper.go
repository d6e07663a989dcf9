package workbench

import (
	"time"

	"masstone/recipes/papers"
)

// heading is what every paper carries: the day it is made, and whose it is.
func (b *Bench) heading(shop []string) papers.Heading {
	return papers.Heading{Made: b.now().Truncate(time.Second), Shop: shop}
}
