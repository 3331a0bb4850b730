package labels

import (
	"image"
	"math"
)

// damage is something that happens to a printed symbol before it is scanned.
// Pictures are grey; module is the side of one module in pixels, symbol the
// place of the symbol without its quiet zone.
type damage struct {
	name  string
	lost  [2]int // symbols that zbar and gozxing may fail to read; see the test
	apply func(img *image.Gray, symbol image.Rectangle, module float64) *image.Gray
}

var damages = []damage{
	{"turned by 15°", [2]int{0, 0}, func(img *image.Gray, _ image.Rectangle, _ float64) *image.Gray {
		return turn(img, 15)
	}},
	{"blurred by half a module", [2]int{0, 4}, func(img *image.Gray, _ image.Rectangle, module float64) *image.Gray {
		return blur(img, module/2)
	}},
	{"30 % contrast", [2]int{0, 0}, func(img *image.Gray, _ image.Rectangle, _ float64) *image.Gray {
		return fade(img, 0.3)
	}},
	{"black blot of 7 %", [2]int{0, 0}, func(img *image.Gray, s image.Rectangle, _ float64) *image.Gray {
		return blot(img, s, 0.5, 0.5, 0)
	}},
	{"white blot of 7 %", [2]int{0, 0}, func(img *image.Gray, s image.Rectangle, _ float64) *image.Gray {
		return blot(img, s, 0.6, 0.45, 255)
	}},
	{"all of these at once", [2]int{2, 4}, func(img *image.Gray, s image.Rectangle, module float64) *image.Gray {
		return fade(blur(turn(blot(img, s, 0.5, 0.5, 0), 15), module/2), 0.3)
	}},
}

// turn rotates about the middle, onto a white ground that holds all of it.
func turn(img *image.Gray, degrees float64) *image.Gray {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	b := img.Bounds()
	w, h := float64(b.Dx()), float64(b.Dy())
	out := image.NewGray(image.Rect(0, 0, int(w*cos+h*sin)+1, int(w*sin+h*cos)+1))
	ow, oh := out.Bounds().Dx(), out.Bounds().Dy()
	for y := range oh {
		for x := range ow {
			dx, dy := float64(x)-float64(ow)/2, float64(y)-float64(oh)/2
			out.Pix[y*out.Stride+x] = sample(img, dx*cos+dy*sin+w/2, -dx*sin+dy*cos+h/2)
		}
	}
	return out
}

// sample is the picture's shade between pixels; outside it is white.
func sample(img *image.Gray, x, y float64) uint8 {
	x0, y0 := int(math.Floor(x)), int(math.Floor(y))
	if x0 < 0 || y0 < 0 || x0+1 >= img.Bounds().Dx() || y0+1 >= img.Bounds().Dy() {
		return 255
	}
	fx, fy := x-float64(x0), y-float64(y0)
	at := func(x, y int) float64 { return float64(img.Pix[y*img.Stride+x]) }
	top := at(x0, y0)*(1-fx) + at(x0+1, y0)*fx
	bottom := at(x0, y0+1)*(1-fx) + at(x0+1, y0+1)*fx
	return uint8(top*(1-fy) + bottom*fy + 0.5)
}

// blur smears every point over a square of that half width.
func blur(img *image.Gray, radius float64) *image.Gray {
	r := max(1, int(math.Round(radius)))
	return smear(smear(img, r, true), r, false)
}

// smear is a running mean along the rows or the columns.
func smear(img *image.Gray, r int, rows bool) *image.Gray {
	b := img.Bounds()
	out := image.NewGray(image.Rect(0, 0, b.Dx(), b.Dy()))
	lines, length, step, next := b.Dy(), b.Dx(), 1, img.Stride
	if !rows {
		lines, length, step, next = b.Dx(), b.Dy(), img.Stride, 1
	}
	for l := range lines {
		at := func(i int) int { return int(img.Pix[l*next+min(max(i, 0), length-1)*step]) }
		sum := 0
		for i := -r; i <= r; i++ {
			sum += at(i)
		}
		for i := range length {
			out.Pix[l*next+i*step] = uint8(sum / (2*r + 1))
			sum += at(i+r+1) - at(i-r)
		}
	}
	return out
}

// fade keeps that part of the contrast, about the middle grey.
func fade(img *image.Gray, part float64) *image.Gray {
	out := image.NewGray(img.Bounds())
	for i, v := range img.Pix {
		out.Pix[i] = uint8(128 + (float64(v)-128)*part)
	}
	return out
}

// blot covers 7 % of the symbol's area with a disc around the point at those
// shares of its side, clear of the three corner patterns: without one of those
// no decoder finds a symbol, whatever its level.
func blot(img *image.Gray, symbol image.Rectangle, atX, atY float64, shade uint8) *image.Gray {
	out := image.NewGray(img.Bounds())
	copy(out.Pix, img.Pix)
	side := float64(symbol.Dx())
	r := side * math.Sqrt(0.07/math.Pi)
	cx, cy := float64(symbol.Min.X)+atX*side, float64(symbol.Min.Y)+atY*side
	for y := int(cy - r); y <= int(cy+r); y++ {
		for x := int(cx - r); x <= int(cx+r); x++ {
			if math.Hypot(float64(x)-cx, float64(y)-cy) <= r {
				out.Pix[y*out.Stride+x] = shade
			}
		}
	}
	return out
}

// scaleDown shrinks a picture down by the mean of the pixels that fall together.
func scaleDown(img *image.Gray, factor float64) *image.Gray {
	w, h := int(float64(img.Bounds().Dx())/factor), int(float64(img.Bounds().Dy())/factor)
	out := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		y0, y1 := int(float64(y)*factor), max(int(float64(y+1)*factor), int(float64(y)*factor)+1)
		for x := range w {
			x0, x1 := int(float64(x)*factor), max(int(float64(x+1)*factor), int(float64(x)*factor)+1)
			sum := 0
			for row := y0; row < y1; row++ {
				for _, v := range img.Pix[row*img.Stride+x0 : row*img.Stride+x1] {
					sum += int(v)
				}
			}
			out.Pix[y*out.Stride+x] = uint8(sum / ((x1 - x0) * (y1 - y0)))
		}
	}
	return out
}
