"""Open a GeoPackage in QGIS, draw it, and print as JSON what QGIS made of it.

Run by the Python for which QGIS was installed, which is not the one of the tests:
`python3 open_in_qgis.py results.gpkg map.png layer ...`, the first layer on top.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path


def told_of(layer):
    """Return what QGIS knows of one layer, and how many features each class has."""
    from qgis.core import QgsRenderContext

    renderer = layer.renderer()
    symbols = renderer.symbols(QgsRenderContext())
    labels = [item.label() for item in renderer.legendSymbolItems()]
    counted = layer.countSymbolFeatures()
    counted.waitForFinished()
    return {
        "valid": layer.isValid(),
        "features": layer.featureCount(),
        "crs": layer.crs().authid(),
        "renderer": renderer.type(),
        "field": getattr(renderer, "classAttribute", str)(),
        "labels": labels,
        "colours": [one.color().name().upper() for one in symbols],
        "parts": [[part.layerType() for part in one.symbolLayers()] for one in symbols],
        "shown": {
            item.label(): counted.featureCount(item.ruleKey())
            for item in renderer.legendSymbolItems()
        },
        "said": layer.htmlMetadata(),
    }


def draw(layers, image):
    """Draw layers, the first on top, on white."""
    from qgis.core import QgsMapRendererSequentialJob, QgsMapSettings
    from qgis.PyQt.QtCore import QSize
    from qgis.PyQt.QtGui import QColor

    settings = QgsMapSettings()
    settings.setLayers(layers)
    settings.setBackgroundColor(QColor("white"))
    settings.setOutputSize(QSize(1400, 1000))
    settings.setOutputDpi(96)
    settings.setDestinationCrs(layers[0].crs())
    extent = layers[0].extent()
    extent.scale(1.2)
    settings.setExtent(extent)
    job = QgsMapRendererSequentialJob(settings)
    job.start()
    job.waitForFinished()
    job.renderedImage().save(str(image))


def main(path, image, *names):
    from qgis.core import Qgis, QgsApplication, QgsVectorLayer

    application = QgsApplication([], False)
    said = []
    application.messageLog().messageReceived.connect(
        lambda text, tag, level: said.append(f"{tag}: {text}") if level else None
    )
    application.initQgis()
    layers = [QgsVectorLayer(f"{path}|layername={one}", one, "ogr") for one in names]
    told = {
        "version": Qgis.QGIS_VERSION,
        "layers": {layer.name(): told_of(layer) for layer in layers},
    }
    draw(layers, Path(image))
    told["said"] = said
    sys.stdout.write(json.dumps(told))
    layers.clear()
    application.exitQgis()


if __name__ == "__main__":
    main(*sys.argv[1:])
