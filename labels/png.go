package labels

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/draw"
	"image/png"
	"io"
	"math"

	"golang.org/x/image/vector"

	"stowkeeper/inventory/message"
)

// fewestPixels is the least side of a module in a picture: with less, common
// decoders begin to miss symbols that are not upright.
const fewestPixels = 3

// WritePNG draws one label of the given size at dpi dots an inch (72 to 1200). Every module is the same whole number
// of pixels, so the symbol can come out a little smaller than on paper. Errors are those of [Plan], and a
// *RefusedError when dpi leaves a module under three pixels.
func WritePNG(w io.Writer, l Label, size Size, dpi int) (Report, error) {
	if dpi < 72 || dpi > 1200 {
		return Report{}, &FieldError{Field: "dpi", Fix: message.M("enter {1} to {2}", 72, 1200)}
	}
	d, report, err := single(l, size)
	if err != nil {
		return Report{}, err
	}
	p := newRaster(size, dpi)
	m := margin(size)
	if err := p.draw(d, m, m); err != nil {
		return Report{}, err
	}
	return report, p.encode(w, dpi)
}

// raster paints drawings into a grey picture.
type raster struct {
	img   *image.RGBA
	scale float64 // pixels a mm
}

func newRaster(size Size, dpi int) *raster {
	k := float64(dpi) / inch
	img := image.NewRGBA(image.Rect(0, 0, int(math.Round(size.W*k)), int(math.Round(size.H*k))))
	draw.Draw(img, img.Bounds(), image.White, image.Point{}, draw.Src)
	return &raster{img, k}
}

func (p *raster) draw(d drawing, x, y float64) error {
	for _, shape := range d.shapes {
		p.polygon(shape, x, y)
	}
	for _, t := range d.texts {
		if err := p.text(t, x, y); err != nil {
			return err
		}
	}
	return p.symbol(d.symbol, x, y)
}

// symbol paints whole pixels, in the middle of the symbol's place.
func (p *raster) symbol(s symbol, x, y float64) error {
	if s.text == "" {
		return nil
	}
	modules, err := encode(s.text, s.Fit)
	if err != nil {
		return err
	}
	side := int(s.ModuleMM * p.scale)
	if side < fewestPixels {
		need := math.Ceil(fewestPixels * inch / s.ModuleMM)
		return &RefusedError{
			Reason:  message.M("{1} pixels per module, at least {2} needed", side, fewestPixels),
			Nearest: message.M("enter {1} dpi or more", whole(need)),
		}
	}
	slack := (s.SideMM*p.scale - float64(side*s.Modules)) / 2
	left, top := int(math.Round((x+s.x)*p.scale+slack)), int(math.Round((y+s.y)*p.scale+slack))
	for _, r := range runs(modules) {
		box := image.Rect(left+r.x*side, top+r.y*side, left+(r.x+r.n)*side, top+(r.y+1)*side)
		draw.Draw(p.img, box, image.Black, image.Point{}, draw.Src)
	}
	return nil
}

func (p *raster) polygon(s shape, x, y float64) {
	b := p.img.Bounds()
	z := vector.NewRasterizer(b.Dx(), b.Dy())
	for i, pt := range s.points {
		px, py := float32((x+pt.x)*p.scale), float32((y+pt.y)*p.scale)
		if i == 0 {
			z.MoveTo(px, py)
		} else {
			z.LineTo(px, py)
		}
	}
	z.ClosePath()
	z.Draw(p.img, b, ink(s.white), image.Point{})
}

func ink(white bool) *image.Uniform {
	if white {
		return image.White
	}
	return image.Black
}

func (p *raster) text(t text, x, y float64) error {
	upem := float64(fonts()[t.face].upem)
	size := t.size * p.scale
	left, base := (x+t.x)*p.scale, (y+t.y)*p.scale
	box := image.Rect(int(left-size), int(base-1.5*size), int(left+(t.face.width(t.s)+1)*size), int(base+size))
	box = box.Intersect(p.img.Bounds()) // the rasterizer does not clip
	pen := &rasterPen{
		z: vector.NewRasterizer(box.Dx(), box.Dy()), k: float32(size / upem),
		x: float32(left - float64(box.Min.X)), y: float32(base - float64(box.Min.Y)),
	}
	if err := t.face.outlines(t.s, pen); err != nil {
		return err
	}
	pen.z.Draw(p.img, box, ink(t.white), image.Point{})
	return nil
}

// rasterPen scales glyph outlines into a rasterizer.
type rasterPen struct {
	z       *vector.Rasterizer
	k, x, y float32
}

func (p *rasterPen) moveTo(x, y float32) { p.z.MoveTo(p.x+p.k*x, p.y+p.k*y) }
func (p *rasterPen) lineTo(x, y float32) { p.z.LineTo(p.x+p.k*x, p.y+p.k*y) }
func (p *rasterPen) closePath()          { p.z.ClosePath() }
func (p *rasterPen) quadTo(x1, y1, x, y float32) {
	p.z.QuadTo(p.x+p.k*x1, p.y+p.k*y1, p.x+p.k*x, p.y+p.k*y)
}

// encode writes the picture in shades of grey, with its resolution, so that a
// program that prints it gets the size right.
func (p *raster) encode(w io.Writer, dpi int) error {
	grey := image.NewGray(p.img.Bounds())
	draw.Draw(grey, grey.Bounds(), p.img, image.Point{}, draw.Src)
	var buf bytes.Buffer
	if err := png.Encode(&buf, grey); err != nil {
		return err
	}
	const header = 8 + 25 // signature and IHDR chunk
	data := buf.Bytes()
	for _, part := range [][]byte{data[:header], density(dpi), data[header:]} {
		if _, err := w.Write(part); err != nil {
			return err
		}
	}
	return nil
}

// density is the pHYs chunk: pixels a metre in x and y (PNG specification, third edition, 11.3.4.3).
func density(dpi int) []byte {
	perMetre := uint32(math.Round(float64(dpi) / inch * 1000))
	chunk := binary.BigEndian.AppendUint32(nil, 9)
	chunk = append(chunk, "pHYs"...)
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = append(chunk, 1) // unit: metre
	return binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(chunk[4:]))
}
