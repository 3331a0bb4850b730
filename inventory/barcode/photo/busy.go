package photo

import (
	"cmp"
	"image"
	"slices"
)

// tile is the side, in pixels, of the squares in which edges are counted.
const tile = 16

// mostParts is how many busy parts of a picture are looked at.
const mostParts = 4

// busy finds the parts of a picture that are full of edges, as symbols are and most of a photo is not: the finder of
// Data Matrix starts in the middle of what it is given, and stops at whatever else lies there. large is the picture
// made smaller; the answers are parts of the picture itself, the busiest first.
func busy(large *image.Gray, whole image.Rectangle) []image.Rectangle {
	columns, rows := large.Rect.Dx()/tile, large.Rect.Dy()/tile
	edges := make([]int, columns*rows)
	most := 0
	for i := range edges {
		edges[i] = edgesIn(large, i%columns*tile, i/columns*tile)
		most = max(most, edges[i])
	}
	type area struct {
		box   image.Rectangle // in tiles
		edges int
	}
	var areas []area
	seen := make([]bool, len(edges))
	for i := range edges {
		if seen[i] || edges[i]*3 < most || most == 0 {
			continue
		}
		box, sum := spread(edges, seen, i, columns, most/3)
		areas = append(areas, area{box, sum})
	}
	slices.SortFunc(areas, func(a, b area) int { return cmp.Compare(b.edges, a.edges) })
	var out []image.Rectangle
	for _, a := range areas[:min(mostParts, len(areas))] {
		box := a.box.Inset(-1) // the quiet zone, and what the tiles cut off
		out = append(out, image.Rect(box.Min.X*tile*whole.Dx()/large.Rect.Dx(), box.Min.Y*tile*whole.Dy()/large.Rect.Dy(),
			box.Max.X*tile*whole.Dx()/large.Rect.Dx(), box.Max.Y*tile*whole.Dy()/large.Rect.Dy()).Add(whole.Min).
			Intersect(whole))
	}
	return out
}

// edgesIn sums the steps between neighbours in a tile, in both directions.
func edgesIn(img *image.Gray, x0, y0 int) int {
	sum := 0
	for y := y0; y < y0+tile-1; y++ {
		row := img.Pix[y*img.Stride+x0:]
		below := img.Pix[(y+1)*img.Stride+x0:]
		for x := range tile - 1 {
			sum += step(row[x], row[x+1]) + step(row[x], below[x])
		}
	}
	return sum
}

// step is the difference of two shades; small ones are noise.
func step(a, b uint8) int {
	d := int(a) - int(b)
	if d < 0 {
		d = -d
	}
	if d < 12 {
		return 0
	}
	return d
}

// spread gathers the busy tiles that hang together with tile i, corners included.
func spread(edges []int, seen []bool, i, columns, least int) (box image.Rectangle, sum int) {
	todo := []int{i}
	seen[i] = true
	for len(todo) > 0 {
		i, todo = todo[len(todo)-1], todo[:len(todo)-1]
		x, y := i%columns, i/columns
		box = box.Union(image.Rect(x, y, x+1, y+1))
		sum += edges[i]
		for dy := -1; dy <= 1; dy++ {
			for dx := -1; dx <= 1; dx++ {
				n := (y+dy)*columns + x + dx
				if x+dx < 0 || x+dx >= columns || n < 0 || n >= len(edges) || seen[n] || edges[n] < least {
					continue
				}
				seen[n] = true
				todo = append(todo, n)
			}
		}
	}
	return box, sum
}
