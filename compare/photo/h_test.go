package photo

import (
	"github.com/fascia-bench/fascia/capture/rectify"
	"image"
)

var origin rectify.Point

func pt(x, y float64) rectify.Point             { return rectify.Point{X: x, Y: y} }
func rectifyPhoto(m image.Image) *rectify.Photo { return rectify.NewPhoto(m) }
