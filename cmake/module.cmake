# One static library per module; arrows only upwards in the list given to bw_layers, or configuring fails.

function(bw_layers)
  set_property(GLOBAL PROPERTY BW_LAYERS "${ARGN}")
endfunction()

# Fails unless MODULE may use each of the modules that follow.
function(bw_check_arrows module)
  get_property(layers GLOBAL PROPERTY BW_LAYERS)
  list(FIND layers ${module} own)
  if(own EQUAL -1)
    message(FATAL_ERROR "layer rule: '${module}' is not in bw_layers of the top CMakeLists.txt")
  endif()
  foreach(dep IN LISTS ARGN)
    list(FIND layers ${dep} below)
    if(below EQUAL -1)
      message(FATAL_ERROR "layer rule: '${module}' uses '${dep}', which is not in bw_layers")
    endif()
    if(NOT below LESS own)
      message(FATAL_ERROR "layer rule: '${module}' may not use '${dep}': it stands below in bw_layers")
    endif()
  endforeach()
endfunction()

# bw_module(NAME SOURCES a.cpp ... DEPS module ... LIBS target ...)
# DEPS are public (their headers are visible), LIBS are private: no third-party header in a public header,
# but for those that a public header truly needs (PUBLIC_LIBS).
function(bw_module name)
  cmake_parse_arguments(M "" "" "SOURCES;DEPS;LIBS;PUBLIC_LIBS" ${ARGN})
  bw_check_arrows(${name} ${M_DEPS})
  add_library(bw_${name} STATIC ${M_SOURCES})
  target_include_directories(bw_${name} PUBLIC include)
  list(TRANSFORM M_DEPS PREPEND bw_)
  target_link_libraries(bw_${name} PUBLIC ${M_DEPS} ${M_PUBLIC_LIBS} PRIVATE ${M_LIBS})
endfunction()

# bw_vector_code(NAME a_kernel.cpp ... [PLAIN]): sources of the module that include themselves once per vector target.
# Optimised in every build: without it the vector code is slower than plain code. With sanitizers one vector target and the
# checks of memory on the heap only, by calls: all of it on all targets would be the longest compilation of the whole tree.
# PLAIN: with sanitizers the indices of its containers are checked instead, for what works on one state for hours in the heap.
function(bw_vector_code name)
  cmake_parse_arguments(V "PLAIN" "" "" ${ARGN})
  set(options -O2 -fno-math-errno -Wno-conversion -Wno-shadow -Wno-maybe-uninitialized)
  if(BRAKEWRIGHT_SANITIZE)
    list(APPEND options -g0 -DBW_ONE_VECTOR_TARGET)
    if(V_PLAIN)
      list(APPEND options -fno-sanitize=address -D_GLIBCXX_ASSERTIONS)
    else()
      list(APPEND options -O1 --param=asan-instrumentation-with-call-threshold=0 --param=asan-stack=0 -fno-sanitize-address-use-after-scope)
    endif()
    list(APPEND options -fno-sanitize=signed-integer-overflow,shift,bounds,float-cast-overflow,enum,bool)
  endif()
  set_source_files_properties(${V_UNPARSED_ARGUMENTS} PROPERTIES COMPILE_OPTIONS "${options}")
  target_include_directories(bw_${name} PRIVATE ${CMAKE_CURRENT_SOURCE_DIR})
endfunction()

# bw_test(MODULE SOURCES ... [LIBS ...] [DRIVES_PROGRAM]): one test program per module, tests/MODULE mirrors src/MODULE.
# DRIVES_PROGRAM: it starts the program and reads what that prints, so it needs no sanitizer of its own and hardly an optimiser.
function(bw_test name)
  cmake_parse_arguments(T "DRIVES_PROGRAM" "" "SOURCES;LIBS" ${ARGN})
  add_executable(test_${name} ${T_SOURCES})
  target_link_libraries(test_${name} PRIVATE ${T_LIBS} GTest::gtest GTest::gtest_main)
  bw_paths(test_${name})
  if(T_DRIVES_PROGRAM)   # its own code has nothing to reckon and much to compile
    target_compile_options(test_${name} PRIVATE "$<IF:$<BOOL:${BRAKEWRIGHT_SANITIZE}>,-O0;-fno-sanitize=all,-O1>")
  endif()
  target_compile_options(test_${name} PRIVATE -Wno-missing-field-initializers)
  gtest_discover_tests(test_${name} PROPERTIES LABELS ${name} TIMEOUT 900 DISCOVERY_TIMEOUT 120)
endfunction()

# bw_paths(TARGET): lets TARGET include bw_paths.hpp, where tree, build and programs are. In a header and not in definitions:
# then only the files that ask for a path differ between checkouts, and the compiler's cache serves the others.
function(bw_paths target)
  get_property(written GLOBAL PROPERTY BW_PATHS_WRITTEN)
  if(NOT written)
    set_property(GLOBAL PROPERTY BW_PATHS_WRITTEN ON)
    set(lines "#pragma once\n#define BW_ROOT \"${CMAKE_SOURCE_DIR}\"\n#define BW_BUILD \"${CMAKE_BINARY_DIR}\"\n")
    if(TARGET brakewright)
      string(APPEND lines "#define BW_PROGRAM \"$<TARGET_FILE:brakewright>\"\n")
    endif()
    if(TARGET make_rides)
      string(APPEND lines "#define BW_MAKE_RIDES \"$<TARGET_FILE:make_rides>\"\n")
    endif()
    file(GENERATE OUTPUT ${CMAKE_BINARY_DIR}/generated/bw_paths.hpp CONTENT "${lines}")
  endif()
  target_include_directories(${target} PRIVATE ${CMAKE_BINARY_DIR}/generated)
endfunction()
