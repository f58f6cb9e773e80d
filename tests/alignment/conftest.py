import sys
from pathlib import Path

# pytest's importlib mode adds no folder to the path; the maker of music lies here.
sys.path.insert(0, str(Path(__file__).parent))
