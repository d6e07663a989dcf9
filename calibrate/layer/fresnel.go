package layer

import "math"

// fresnel is the reflectance of unpolarised light at a smooth boundary, met at
// cosine inside from the resin of refractive index n, air beyond: (6). It is 1
// where the light is totally reflected.
func fresnel(n, inside float64) float64 {
	sin := n * math.Sqrt(max(0, 1-inside*inside))
	if sin >= 1 {
		return 1
	}
	outside := math.Sqrt(1 - sin*sin)
	s := (n*inside - outside) / (n*inside + outside)
	p := (n*outside - inside) / (n*outside + inside)
	return (s*s + p*p) / 2
}

// refracted is the cosine inside a resin of index n of light that meets its
// surface from air at cosine outside.
func refracted(n, outside float64) float64 {
	return math.Sqrt(1 - (1-outside*outside)/(n*n))
}

// SurfaceShares are what a smooth surface between air and a medium of refractive
// index n, above 1, reflects by Fresnel's equations.
type SurfaceShares struct {
	Normal  float64 // of light along the normal: Saunderson's k1
	Outside float64 // of diffuse light from the air
	Inside  float64 // of diffuse light from the medium: Saunderson's k2
}

// Surface returns the shares for index n, 1 or more; a smaller n counts as 1,
// which reflects nothing. Outside is the closed form of Walsh (1926), Duntley
// (1942); Inside follows from it, 1 - (1 - Outside)/n^2.
func Surface(n float64) SurfaceShares {
	if !(n > 1) {
		return SurfaceShares{}
	}
	n2 := n * n
	n4 := n2 * n2
	outside := 0.5 + (n-1)*(3*n+1)/(6*(n+1)*(n+1)) +
		n2*(n2-1)*(n2-1)/math.Pow(n2+1, 3)*math.Log((n-1)/(n+1)) -
		2*n*n2*(n2+2*n-1)/((n2+1)*(n4-1)) +
		8*n4*(n4+1)/((n2+1)*(n4-1)*(n4-1))*math.Log(n)
	return SurfaceShares{Normal: fresnel(n, 1), Outside: outside, Inside: 1 - (1-outside)/n2}
}

// AcrossGap is the reflectance factor that a Lambertian backing, 0..1 in air,
// shows to the diffuse light inside a layer that lies on it with a thin air gap:
// the backing to give to KubelkaMunk for a chip laid dry on a tile. The gap
// alone returns Inside, about 0.6, so a clear chip on black is far from black.
func (s SurfaceShares) AcrossGap(backing float64) float64 {
	backing = within(backing, 1)
	return s.Inside + (1-s.Inside)*(1-s.Outside)*backing/(1-s.Outside*backing)
}
