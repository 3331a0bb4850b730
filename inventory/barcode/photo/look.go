package photo

import (
	"image"
	"image/color"
	"iter"
	"math"

	"golang.org/x/image/draw"
	"golang.org/x/image/math/f64"
)

// look is one way of looking at a picture: some of it, turned and scaled, for some kinds of symbol.
type look struct {
	img     *image.Gray
	readers []reader
}

// Sides of the pictures that are looked at, in pixels. A symbol that fills a
// fair part of a photo is found on the small one, and faster.
const (
	smallSide = 800
	largeSide = 1600
)

// looks goes through the ways of looking at a picture, the likeliest first.
func looks(img image.Image) iter.Seq[look] {
	return func(yield func(look) bool) {
		all := img.Bounds()
		small := stretched(scaled(img, all, smallSide))
		large := scaled(img, all, largeSide)
		first := []look{{small, allReaders}, {flattened(small), allReaders}}
		for _, part := range busy(large, all) {
			first = append(first, look{stretched(scaled(img, part, smallSide)), allReaders})
		}
		if large.Rect != small.Rect {
			first = append(first, look{flattened(stretched(large)), allReaders})
		}
		for _, l := range first {
			if !yield(l) {
				return
			}
		}
		for _, degrees := range []float64{20, -20, 45, -45} {
			if !yield(look{turned(small, degrees), lineReaders}) {
				return
			}
		}
		if yield(look{scaled(small, small.Rect, smallSide/2), allReaders}) {
			yield(look{inverted(small), allReaders})
		}
	}
}

// scaled makes a grey picture of a part of one; its longer side is at most side pixels.
func scaled(img image.Image, b image.Rectangle, side int) *image.Gray {
	w, h := b.Dx(), b.Dy()
	if longer := max(w, h); longer > side {
		w, h = max(1, w*side/longer), max(1, h*side/longer)
	}
	out := image.NewGray(image.Rect(0, 0, w, h))
	draw.Draw(out, out.Rect, image.White, image.Point{}, draw.Src) // behind what is transparent
	if w == b.Dx() && h == b.Dy() {
		draw.Draw(out, out.Rect, img, b.Min, draw.Over)
	} else {
		draw.ApproxBiLinear.Scale(out, out.Rect, img, b, draw.Over, nil)
	}
	return out
}

// stretched spreads a picture's greys over the whole range, in place: the
// darkest and the lightest hundredth become black and white.
func stretched(img *image.Gray) *image.Gray {
	var shades [256]int
	for _, v := range img.Pix {
		shades[v]++
	}
	low, high := 0, 255
	for n := len(img.Pix) / 100; low < 255 && shades[low] <= n; low++ {
		n -= shades[low]
	}
	for n := len(img.Pix) / 100; high > 0 && shades[high] <= n; high-- {
		n -= shades[high]
	}
	if high-low < 8 {
		return img
	}
	for i, v := range img.Pix {
		img.Pix[i] = uint8(min(255, max(0, (int(v)-low)*255/(high-low))))
	}
	return img
}

func inverted(img *image.Gray) *image.Gray {
	out := image.NewGray(img.Rect)
	for i, v := range img.Pix {
		out.Pix[i] = 255 - v
	}
	return out
}

// turned rotates a picture about its middle, on white.
func turned(img *image.Gray, degrees float64) *image.Gray {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	w, h := float64(img.Rect.Dx()), float64(img.Rect.Dy())
	nw, nh := math.Abs(w*cos)+math.Abs(h*sin), math.Abs(w*sin)+math.Abs(h*cos)
	out := image.NewGray(image.Rect(0, 0, int(nw)+1, int(nh)+1))
	draw.Draw(out, out.Rect, image.NewUniform(color.White), image.Point{}, draw.Src)
	m := f64.Aff3{cos, -sin, nw/2 - cos*w/2 + sin*h/2, sin, cos, nh/2 - sin*w/2 - cos*h/2}
	draw.ApproxBiLinear.Transform(out, m, img, img.Rect, draw.Over, nil)
	return out
}

// flattened evens out the light: each point is compared with the mean of what lies round it.
func flattened(img *image.Gray) *image.Gray {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	sums := make([]int, (w+1)*(h+1)) // of all that lies above and to the left
	for y := range h {
		line := 0
		for x := range w {
			line += int(img.Pix[y*img.Stride+x])
			sums[(y+1)*(w+1)+x+1] = sums[y*(w+1)+x+1] + line
		}
	}
	out := image.NewGray(image.Rect(0, 0, w, h))
	reach := max(w, h) / 16
	for y := range h {
		y0, y1 := max(0, y-reach), min(h, y+reach+1)
		for x := range w {
			x0, x1 := max(0, x-reach), min(w, x+reach+1)
			sum := sums[y1*(w+1)+x1] - sums[y0*(w+1)+x1] - sums[y1*(w+1)+x0] + sums[y0*(w+1)+x0]
			mean := max(1, sum/((x1-x0)*(y1-y0)))
			out.Pix[y*out.Stride+x] = uint8(min(255, int(img.Pix[y*img.Stride+x])*160/mean))
		}
	}
	return out
}
