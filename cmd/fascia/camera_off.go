//go:build !camera

package main

const withCamera = false
